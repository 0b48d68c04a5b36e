"""Sheet metal scanned from both sides against a solid shape: the same job as its outer skin against the outer face.

Witness: the plan of the outer skin alone against the outer face alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.bench.materials import pick
from core.place.onto import Landmarks
from core.planning.plan import Lining, Plan, make_plan
from core.progress import silent
from core.settings import Settings
from core.surface.surface import Floats, Ints, Surface
from tests.core import shapes
from tests.seeds import cases, seeds

WIDE, LONG = 240.0, 200.0


def ring_of(nx: int, ny: int) -> Ints:
    """Rows of a grid's rim, counter-clockwise seen from above."""
    row = np.arange(nx * ny).reshape(nx, ny)
    return np.concatenate([row[:-1, 0], row[-1, :-1], row[:0:-1, -1], row[0, :0:-1]])


def closed(outer: Surface, inner: Floats, shape: tuple[int, int], rim: str) -> Surface:
    """A sheet and, behind it, the points of its inner skin, joined by walls, a round or a sharp rim, or not at all."""
    n, ring = len(outer.vertices), ring_of(*shape)
    points, faces = [outer.vertices, inner], [outer.triangles, outer.triangles[:, ::-1] + n]
    top, bottom = outer.vertices[ring], inner[ring]
    middle, half = (top + bottom) / 2, np.linalg.norm(top - bottom, axis=1, keepdims=True) / 2
    out = middle - middle.mean(axis=0)
    out[:, :2] = np.sign(out[:, :2]) * (np.abs(out[:, :2]) > 0.999 * np.abs(out[:, :2]).max(axis=0))
    out[:, 2] = 0
    angles = {"wall": [], "sharp": [90.0], "round": [30.0, 60.0, 90.0, 120.0, 150.0], "none": []}[rim]
    loops = [ring]
    for angle in np.radians(angles):
        loops.append(sum(map(len, points)) + np.arange(len(ring)))
        points.append(middle + half * np.sin(angle) * out + np.cos(angle) * (top - middle))
    loops.append(ring + n)
    for above, below in zip(loops, loops[1:], strict=False):
        if rim != "none":
            after, under = np.roll(above, -1), np.roll(below, -1)
            faces += [np.stack([above, below, under], 1), np.stack([above, under, after], 1)]
    return Surface(np.concatenate(points), np.concatenate(faces))


@dataclass
class Scene:
    outer: Surface  # open
    panel: Surface  # scanned from both sides
    shape: Surface  # open
    solid: Surface


def scene(seed: int, rim: str, sheet_mm: float, solid_mm: float, crown_mm: float = np.inf) -> Scene:
    """Dents and a high spot anywhere on a sheet of a crown's radius, laid any way round."""
    rng = np.random.default_rng(seed)

    def crown(x: Floats, y: Floats) -> Floats:
        return -((x - WIDE / 2) ** 2 + (y - LONG / 2) ** 2) / (2 * crown_mm)

    x, y = shapes.grid_points(WIDE, LONG, 2.0)
    low = 0 * x
    for depth in (rng.uniform(2, 8), rng.uniform(1, 4), -rng.uniform(1, 2)):
        place = rng.uniform(40, WIDE - 40), rng.uniform(40, LONG - 40)
        low += shapes.cosine_dent(x, y, place, (rng.uniform(25, 38), rng.uniform(25, 38)), depth)
    top = crown(x, y) - low + shapes.noise_field(x.shape, 2.0, 4.0, 0.02, rng)
    outer = shapes.sheet(x, y, top)
    under = outer.vertices - [0, 0, sheet_mm] + rng.normal(0, 0.02, outer.vertices.shape) * [0, 0, 1]
    panel = closed(outer, under, x.shape, rim)
    x, y = shapes.grid_points(WIDE + 8, LONG + 8, 8.0)
    shape = shapes.sheet(x - 4, y - 4, crown(x - 4, y - 4))
    solid = Surface(*shapes.lidded(Surface(shape.vertices - [0, 0, solid_mm], shape.triangles), solid_mm))
    turn, shift = Rotation.random(random_state=seed).as_matrix(), rng.uniform(-500, 500, 3)
    return Scene(*(shapes.moved(s, turn, shift) for s in (outer, panel, shape, solid)))


def plan(panel: Surface, target: Surface) -> Plan:
    return make_plan(panel, target, Settings(), pick("polyester"))


def figures(found: Plan) -> list[tuple[str, float, float]]:
    return [(work.area.kind, work.area.area_mm2, work.area.volume_mm3) for work in found.works]


def check_same(got: Plan, alone: Plan, rel: float = 1e-3, area_rel: float | None = None) -> None:
    assert [kind for kind, *_ in figures(got)] == [kind for kind, *_ in figures(alone)]
    for (_, area, volume), (_, area_alone, volume_alone) in zip(figures(got), figures(alone), strict=True):
        assert area == pytest.approx(area_alone, rel=area_rel or rel)
        assert volume == pytest.approx(volume_alone, rel=rel)
    assert got.totals.fill_mm3 == pytest.approx(alone.totals.fill_mm3, rel=rel)
    assert got.totals.cut_mm3 == pytest.approx(alone.totals.cut_mm3, rel=rel)
    assert any("scanned from both sides" in warning for warning in got.warnings)


@pytest.mark.parametrize("solid_mm", cases([0.8, 0.9, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 40.0], 0.8, 3.0, 40.0))
@pytest.mark.parametrize("crown_mm", [np.inf, 1500.0])
def test_a_scan_from_both_sides_is_the_job_of_its_outer_skin(solid_mm: float, crown_mm: float) -> None:
    made = scene(int(10 * solid_mm), "wall", 0.8, solid_mm, crown_mm)
    check_same(plan(made.panel, made.solid), plan(made.outer, made.shape))


@pytest.mark.parametrize("rim", ["wall", "sharp", "round", "none"])
@pytest.mark.parametrize("seed", seeds(10, 1))
def test_whatever_its_rim_and_its_thickness(rim: str, seed: int) -> None:
    rng = np.random.default_rng(seed + 100)
    sheet_mm, crown_mm = rng.uniform(0.6, 3.0), rng.choice([np.inf, 3000.0, 800.0])
    solid_mm = sheet_mm if seed % 3 == 0 else np.exp(rng.uniform(np.log(0.8), np.log(40.0)))
    made = scene(seed, rim, sheet_mm, solid_mm, crown_mm)
    # What curves away least of a round rim is still outside, and may have a say in where an area ends.
    rel = (5e-3, 2e-2) if rim == "round" else (1e-3, 1e-3)
    check_same(plan(made.panel, made.solid), plan(made.outer, made.shape), *rel)


@pytest.mark.parametrize("seed", seeds(4, 2))
def test_whatever_the_order_of_its_triangles_and_though_it_is_inside_out(seed: int) -> None:
    # Growth of an area may end a triangle sooner or later in another order: half a per cent.
    made = scene(seed, "round", 0.8, 1.5)
    panel, _ = shapes.shuffled(made.panel, np.random.default_rng(seed))
    panel = panel.turned(np.full(len(panel.triangles), seed % 2 == 1))
    check_same(plan(panel, made.solid), plan(made.outer, made.shape), 5e-3)


@pytest.mark.parametrize("off_mm", cases([-1.0, -0.3, 0.3, 1.0, 3.0], -0.3, 3.0))
@pytest.mark.parametrize("solid_mm", [0.8, 2.0, 10.0, 40.0])
def test_a_panel_that_lies_off_all_over_is_known_by_its_crown(off_mm: float, solid_mm: float) -> None:
    made = scene(5, "wall", 0.8, solid_mm, 800.0)
    up = made.outer.normals.mean(axis=0) / np.linalg.norm(made.outer.normals.mean(axis=0))
    panel, outer = (Surface(s.vertices - off_mm * up, s.triangles) for s in (made.panel, made.outer))
    check_same(plan(panel, made.solid), plan(outer, made.shape), 2e-3)


@pytest.mark.parametrize("inside_share", [0.35, 0.6])
def test_where_only_part_of_the_inside_was_scanned(inside_share: float) -> None:
    made = scene(11, "wall", 0.8, 2.0)
    n = len(made.outer.triangles)
    row = np.arange(len(made.panel.triangles))
    panel = made.panel.part((row < n) | ((row >= n) & (row < 2 * n) & ((row - n) % (n // 2) < inside_share * n / 2)))
    check_same(plan(panel, made.solid), plan(made.outer, made.shape))


def test_a_hole_through_both_skins() -> None:
    made = scene(3, "wall", 0.8, 1.2)
    n = len(made.outer.triangles)
    middle = made.outer.vertices[made.outer.triangles].mean(axis=1)
    hole = np.linalg.norm(middle - made.outer.vertices.mean(axis=0), axis=1) < 12
    walls = np.zeros(len(made.panel.triangles) - 2 * n, dtype=bool)
    panel = made.panel.part(~np.concatenate([hole, hole, walls]))
    check_same(plan(panel, made.solid), plan(made.outer.part(~hole), made.shape))


@pytest.mark.parametrize("solid_mm", [0.8, 3.0])
def test_lined_up_first_with_a_part_set_aside(solid_mm: float) -> None:
    # Off by some millimetres and a turn: the very same fit and areas as of the outer skin, lined up with the solid too.
    made = scene(21, "wall", 0.8, solid_mm, 500.0)
    off = Rotation.from_rotvec([0.01, -0.02, 0.01]).as_matrix()
    middle = made.outer.vertices.mean(axis=0)

    def lined(panel: Surface, target: Surface) -> Plan:
        there = Surface((panel.vertices - middle) @ off.T + middle + [2.0, 1.0, -2.0], panel.triangles)
        start = Landmarks(there.vertices[[0, 120, 6000, 9000]], panel.vertices[[0, 120, 6000, 9000]])
        aside = np.linalg.norm(panel.vertices - panel.vertices[6000], axis=1) < 30
        return make_plan(there, target, Settings(), pick("polyester"), None, silent, Lining(start, aside=aside))

    check_same(lined(made.panel, made.solid), lined(made.outer, made.solid), 1e-6)


@pytest.mark.parametrize("thick_mm", [5.0, 15.0, 40.0])
def test_a_body_scanned_all_around_keeps_all_its_sides(thick_mm: float) -> None:
    # No sheet: a dent in its top and a dent in its bottom are both to be filled; closed form of cosine dents.
    x, y = shapes.grid_points(WIDE, LONG, 2.0)
    top = shapes.sheet(x, y, -shapes.cosine_dent(x, y, (80, 100), (35, 35), 2.0))
    low = np.stack([x.ravel(), y.ravel(), -thick_mm + shapes.cosine_dent(x, y, (170, 100), (30, 30), 1.5).ravel()], 1)
    plain = shapes.sheet(x, y, 0 * x)
    body = closed(top, low, x.shape, "wall")
    solid = closed(plain, plain.vertices - [0, 0, thick_mm], x.shape, "wall")
    found = plan(body, solid)
    exact = [np.pi * a * a * d * (0.5 - 2 / np.pi**2) for a, d in ((35, 2.0), (30, 1.5))]
    assert [v for _, _, v in figures(found)] == pytest.approx(exact, rel=0.01)
    assert not any("both sides" in warning for warning in found.warnings)
