"""What is drawn on a planned plate: lines where the depth says, numbers with room, hatch, dots, rings."""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.materials import pick
from core.legend.legend import legend
from core.map.chalk import chalk_height_mm
from core.map.chalk_marks import chalk_marks, outline
from core.map.drawn import CONTOURS, DOTS, HATCHED, LAYERS, PALE, DrawnLine, packed, unpacked
from core.map.letters import written
from core.map.line_numbers import Spot, broken, spots
from core.map.map_lines import _on_metal, height_mm, map_lines
from core.map.skin import Skin, frame, near, up_of
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.surface.surface import Surface
from tests.core.shapes import grid_points, sheet

SOLDER = pick("tin-lead-30-70")
KEY = legend(0.25, SOLDER.greatest_depth_mm)
MIDDLES = {"dent": (-40.0, 10.0), "bump": (60.0, -40.0), "hollow": (50.0, 55.0)}


def plate(count: int = 151, size: float = 240.0) -> tuple[Surface, Surface]:
    """A plate with a dent of 4.5 mm, a bump of 1 mm and a hollow of 0.8 mm in a flat shape that lacks a corner."""
    ticks = np.linspace(-size / 2, size / 2, count)
    x, y = (axis.ravel() for axis in np.meshgrid(ticks, ticks, indexing="ij"))
    row = np.arange(count * count).reshape(count, count)
    a, b, c, d = (part.ravel() for part in (row[:-1, :-1], row[1:, :-1], row[1:, 1:], row[:-1, 1:]))
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    shape = Surface(np.column_stack([x, y, 0 * x]), triangles)
    middle = shape.vertices[triangles].mean(axis=1)
    shape = shape.part(~((middle[:, 0] < -80) & (middle[:, 1] < -80)))
    fall = depth_of(x, y)
    return Surface(np.column_stack([x, y, -fall]), triangles), shape


def depth_of(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    def hill(name: str, width: float) -> np.ndarray:
        a, b = MIDDLES[name]
        return np.exp(-((x - a) ** 2 + (y - b) ** 2) / (2 * width**2))

    return 4.5 * hill("dent", 18.0) - 1.0 * hill("bump", 14.0) + 0.8 * hill("hollow", 14.0)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(*plate(), Settings(), SOLDER)


@pytest.fixture(scope="module")
def lines(plan: Plan) -> list[DrawnLine]:
    return map_lines(plan, KEY)


def of_layer(lines: list[DrawnLine], *layers: str) -> np.ndarray:
    return np.concatenate([line.points for line in lines if line.layer in layers])


def pass_ends(plan: Plan) -> np.ndarray:
    """By hand: solder of 2 mm a layer, laid t0 proud, does not contract, so a layer more is laid from 2 k - t0 on."""
    return np.array([2.0, 4.0]) - plan.totals.minimum_overbuild_mm


def contours_of(plan: Plan, lines: list[DrawnLine]) -> list[DrawnLine]:
    """Contour lines without the strokes of their numbers, which are short."""
    least = 5 * height_mm(plan.panel.surface)
    return [
        line for line in lines
        if line.layer in (CONTOURS, PALE) and np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum() > least
    ]


def test_lines_lie_where_depth_passes_a_level_or_belong_to_a_number(plan: Plan, lines: list[DrawnLine]) -> None:
    # The field is known in closed form; the panel is denoised (bandwidth 3 mm), which shifts a level a little.
    origin = plan.panel.surface.origin
    levels = np.union1d(KEY.edges_mm, pass_ends(plan))
    found = contours_of(plan, lines)
    assert len(found) >= 8
    seen = set()
    for line in found:
        x, y, _ = (line.points + origin).T
        depth = depth_of(x, y)
        k = int(np.argmin(np.abs(levels - np.median(depth))))
        seen.add(levels[k])
        assert np.abs(depth - levels[k]).max() < 0.16
    assert {0.25, 0.5, 1.0, 2.0, -0.25} <= seen


def test_a_pass_ends_with_a_heavier_line(plan: Plan, lines: list[DrawnLine]) -> None:
    origin = plan.panel.surface.origin
    long = contours_of(plan, lines)
    depth = [np.median(depth_of(*(line.points + origin)[:, :2].T)) for line in long]
    width = np.array([np.max(line.width) for line in long])
    ends = np.array([np.abs(d - pass_ends(plan)).min() < 0.1 for d in depth])
    assert ends.any()
    assert width[ends].min() > 1.5 * width[~ends].max()


def test_hatch_and_dots_lie_on_what_they_mark(plan: Plan, lines: list[DrawnLine]) -> None:
    origin = plan.panel.surface.origin
    hatch = of_layer(lines, HATCHED) + origin
    assert depth_of(*hatch[:, :2].T).min() > SOLDER.greatest_depth_mm - 0.2
    dots = of_layer(lines, DOTS) + origin
    assert dots[:, 0].max() < -78
    assert dots[:, 1].max() < -78
    # Even: in the missing corner of 40 x 40 mm one to each cube of its lattice.
    apart = 0.9 * height_mm(plan.panel.surface)
    assert len(dots) / 2 == pytest.approx((40 / apart) ** 2, rel=0.35)


def test_everything_lies_just_over_the_surface(plan: Plan, lines: list[DrawnLine]) -> None:
    panel = plan.panel.surface
    points = of_layer(lines, CONTOURS, PALE, HATCHED)
    skin = Skin(panel, points, 10.0)
    on, normals, off = skin.laid(points)
    assert off.max() < 0.5 * height_mm(panel)
    assert ((points - on) * normals).sum(axis=1).min() > 0


def test_numbers_have_room() -> None:
    # Three concentric circles: no line comes into a number's room, numbers don't overlap, and all stand upright.
    turn = np.linspace(0, 2 * np.pi, 400)
    rings = [np.column_stack([r * np.cos(turn), r * np.sin(turn), 0 * turn]) for r in (30.0, 38.0, 60.0)]
    widths = [written(words)[1] * 5.0 for words in ("1", "0.5", "0.25")]
    found = spots(rings, widths, 5.0, np.array([1.0, 0.0, 0.0]))
    assert sorted(spot.line for spot in found) == [0, 1, 2]
    up = np.array([np.cross([0.0, 0, 1], spot.along) for spot in found])
    assert all(spot.along[0] > 0.7 for spot in found)
    for ring in rings:
        for part in broken(ring, found, up):
            for spot, above in zip(found, up, strict=True):
                x, y = np.abs((part - spot.place) @ spot.along), np.abs((part - spot.place) @ above)
                assert not ((x < spot.width / 2) & (y < spot.height / 2)).any()
    apart = [np.linalg.norm(a.place - b.place) - (a.width + b.width) / 2 for a in found for b in found if a is not b]
    assert min(apart) > 0


@pytest.mark.parametrize(("apart", "share"), [(9.0, 1.0), (4.5, 1.0), (3.2, 0.75), (2.4, 0.55), (1.5, None)])
def test_numbers_shrink_to_their_bands_or_are_left_out(apart: float, share: float | None) -> None:
    """Rings so far apart that 0.8 of the height fits, by hand: 5 mm from 4 mm on, 3.75 from 3, 2.75 from 2.2."""
    turn = np.linspace(0, 2 * np.pi, 400)
    rings = [np.column_stack([r * np.cos(turn), r * np.sin(turn), 0 * turn]) for r in 60.0 + apart * np.arange(4)]
    found = spots(rings, [9.0] * 4, 5.0, np.array([1.0, 0.0, 0.0]))
    assert {spot.height / 5.0 for spot in found} == (set() if share is None else {share})
    assert {spot.width / spot.height for spot in found} <= {9.0 / 5.0}


@pytest.mark.parametrize(("wide", "share"), [(12.0, 1.0), (3.5, 0.75), (1.5, None)])
def test_a_number_keeps_off_the_other_side_of_its_own_line(wide: float, share: float | None) -> None:
    """A long thin loop, two straight sides ``wide`` apart: 0.8 of the number's height is wanted between them."""
    x = np.linspace(-60.0, 60.0, 200)
    y = np.repeat([0.0, wide, 0.0], [200, 200, 1])
    loop = np.column_stack([np.concatenate([x, x[::-1], x[:1]]), y, 0 * y])
    found = spots([loop], [9.0], 5.0, np.array([1.0, 0.0, 0.0]))
    assert [spot.height / 5.0 for spot in found] == ([] if share is None else [share])


def test_a_number_over_a_hole_or_edge_is_left_out() -> None:
    """A strip 8 mm wide: a number 5 mm high stays on it in the middle, and hangs over its edge 2.5 mm further on."""
    x, y = grid_points(60.0, 8.0, 1.0)
    strip = sheet(x, y, 0 * x)
    skin = Skin(strip, strip.vertices, 10.0)
    up, along = np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])
    middle, aside = (Spot(0, np.array([30.0, at, 0.0]) - strip.origin, along, 9.0, 5.0) for at in (4.0, 6.5))
    assert _on_metal(skin, middle, up)
    assert not _on_metal(skin, aside, up)


def test_a_short_line_gets_no_number_and_stays_whole() -> None:
    line = np.array([[0.0, 0, 0], [8.0, 0, 0]])
    assert spots([line], [5.0], 5.0, np.array([1.0, 0, 0])) == ()
    assert broken(line, (), np.empty((0, 3)))[0] is line
    far = Spot(0, np.array([500.0, 0, 0]), np.array([1.0, 0, 0]), 10.0, 5.0)
    assert broken(line, (far,), np.array([[0.0, 1, 0]]))[0] is line


def test_outline_is_the_longest_of_the_labelled_triangles(plan: Plan) -> None:
    # Brute force: sides that just one labelled triangle has, as a set.
    panel, label = plan.panel.surface, plan.survey.areas.label
    rows = outline(panel, label, 1)
    walked = {frozenset(pair) for pair in zip(rows.tolist(), np.roll(rows, -1).tolist(), strict=True)}
    count: dict[frozenset[int], int] = {}
    for triangle in panel.triangles[(label[panel.triangles] == 1).any(axis=1)].tolist():
        for k in range(3):
            side = frozenset((triangle[k], triangle[k - 2]))
            count[side] = count.get(side, 0) + 1
    free = {side for side, times in count.items() if times == 1}
    assert walked <= free
    assert len(walked) > 0.9 * len(free)


def test_chalk_rings_each_area_and_stays_on_the_panel(plan: Plan) -> None:
    strokes = chalk_marks(plan, "mm")
    points = np.concatenate([stroke.points for stroke in strokes]) + plan.panel.surface.origin
    assert np.abs(points[:, :2]).max() < 120.5
    for area in plan.survey.areas.found:
        away = points[:, :2] - np.array(area.deepest_point_mm)[:2]
        angle = np.degrees(np.arctan2(*away.T))
        # The ring goes round: something is chalked in every direction (in 24 steps).
        assert len(np.unique(np.floor(angle / 15))) == 24


def test_lines_come_out_of_their_arrays_as_they_went_in(lines: list[DrawnLine]) -> None:
    origin = np.array([1000.0, -20.0, 3.0])
    arrays = packed(lines, origin, 25.4)
    for layer in LAYERS:
        wanted = [line for line in lines if line.layer == layer]
        found = unpacked(arrays, layer)
        assert len(found) == len(wanted)
        for a, b in zip(found, wanted, strict=True):
            np.testing.assert_allclose(a.points * 25.4 - origin, b.points, atol=1e-9)
            np.testing.assert_allclose(a.width * 25.4, b.width, rtol=1e-6)
            assert a.closed == b.closed
    assert packed([], origin, 1.0)["drawn_points"].shape == (0, 3)


def test_near_finds_all_triangles_within_reach() -> None:
    panel, _ = plate(31)
    asked = np.array([[10.0, 5.0, 0.0], [-90.0, 90.0, 1.0]])
    found = near(panel, asked, 15.0)
    # Brute force over all corners.
    away = np.linalg.norm(panel.vertices[:, None] - asked[None], axis=2).min(axis=1)
    wanted = np.flatnonzero((away[panel.triangles] <= 15.0).any(axis=1))
    assert np.isin(wanted, found).all()
    assert len(found) < len(panel.triangles) / 2


def test_a_reader_stands_upright() -> None:
    normals = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
    right, up = frame(normals[:1], up_of(normals[:1]))
    np.testing.assert_allclose((right[0], up[0]), ([1, 0, 0], [0, 0, 1]), atol=1e-12)  # a door seen from the front
    right, up = frame(normals[1:], up_of(normals[1:]))
    np.testing.assert_allclose((right[0], up[0]), ([1, 0, 0], [0, 1, 0]), atol=1e-12)  # a bonnet seen from above
    right, up = frame(np.array([[0.0, 1.0, 0.0]]), np.array([0.0, 1.0, 0.0]))
    assert np.linalg.norm(right[0]) == pytest.approx(1.0)  # up and normal the same: still a frame


@pytest.mark.parametrize("begins", [84.0, 92.0, 100.0, 102.0])
def test_words_in_chalk_keep_off_a_hole_beside_their_ring(begins: float) -> None:
    """A hole above a dent, where words usually go: they keep half a letter's height off it, or go elsewhere."""
    panel, target = plate()
    middle = panel.vertices[panel.triangles].mean(axis=1) + panel.origin
    hole = (np.abs(middle[:, 0] - MIDDLES["dent"][0]) < 45) & (middle[:, 1] > begins) & (middle[:, 1] < 112)
    pierced = make_plan(panel.part(~hole), target, Settings(), SOLDER)
    strokes = [stroke for stroke in chalk_marks(pierced, "mm") if not stroke.halo]
    points = np.concatenate([stroke.points for stroke in strokes]) + pierced.panel.surface.origin
    above = points[np.abs(points[:, 0] - MIDDLES["dent"][0]) < 44, 1]
    assert begins - above.max() > 0.5 * chalk_height_mm(panel.diagonal)
