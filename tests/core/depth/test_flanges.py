"""Metal behind the skin changes nothing: return flanges, hems, rolled edges and inner skins."""

from __future__ import annotations

import numpy as np
import pytest

from core.depth.depth import Reason
from core.surface.surface import Floats, Surface
from tests.core import shapes
from tests.core.depth.between_sheets import Found, found_between

WIDE, LONG = 100.0, 120.0
DENT = {"centre": (32.0, 60.0), "half": (28.0, 28.0), "depth": 8.0}
EXACT = np.pi * 28**2 * 8 * (0.5 - 2 / np.pi**2)  # cosine dent, calculus
LINE = np.arange(0.0, WIDE + 1, 1.0)
ALONG = np.arange(0.0, LONG + 1, 1.0)


def outline(edge: str, gap: float) -> tuple[Floats, Floats]:
    """x and z of a flange that runs 60 mm behind the skin, from its free end to the skin's edge at x = 0."""
    if edge == "none":
        return np.empty(0), np.empty(0)
    back = np.arange(60.0, 0.0, -2.0)
    if edge == "square":  # a wall between flange and skin
        return np.append(back, 0.0), np.full(len(back) + 1, -gap)
    if edge == "rolled":
        turn = np.radians(np.arange(270.0, 90.0, -15.0))
        x, z = gap / 2 * np.cos(turn), gap / 2 * (np.sin(turn) - 1)
        return np.append(back, x), np.append(np.full(len(back), -gap), z)
    return back, -gap * back / 60  # a hem, folded over sharply by 180 degrees less a little


def skin(edge: str, gap: float, dented: bool) -> Surface:
    """The skin at z = 0 with its flange; ``dented`` by 8 mm over the flange."""
    flange_x, flange_z = outline(edge, gap)
    x = np.append(flange_x, LINE)
    made = shapes.extruded(x, np.append(flange_z, 0 * LINE), ALONG)
    if not dented:
        return made
    v = made.vertices.copy()
    mine = np.repeat(np.arange(len(x)) >= len(flange_x), len(ALONG))
    v[mine, 2] -= shapes.cosine_dent(v[mine, 0], v[mine, 1], **DENT)  # type: ignore[arg-type]
    return Surface(v, made.triangles)


def plain() -> Found:
    return found_between(skin("none", 0.0, True), skin("none", 0.0, False))


@pytest.mark.parametrize("edge", ["square", "rolled", "hem"])
@pytest.mark.parametrize("gap", [3.0, 6.0])
@pytest.mark.parametrize("where", ["target", "both", "panel"])
def test_flange_behind_an_8_mm_dent(edge: str, gap: float, where: str) -> None:
    # Closed form of the dent, and the very same depths as with no flange at all.
    panel = skin(edge if where != "target" else "none", gap, True)
    got = found_between(panel, skin(edge if where != "panel" else "none", gap, False))
    alone = plain()
    skin_points = slice(len(panel.vertices) - len(LINE) * len(ALONG), None)
    inner = LINE.repeat(len(ALONG)) > 0.5
    depth = got.depth.depth_mm[skin_points]
    np.testing.assert_allclose(depth[inner], alone.depth.depth_mm[inner], atol=1e-9)
    assert got.fill == pytest.approx(EXACT, rel=2e-3)
    assert got.fill == pytest.approx(alone.fill, rel=1e-6)
    assert got.cut < 1e-6 * EXACT


@pytest.mark.parametrize("draft_deg", [0.0, 1e-9, 2.0, 5.0, 15.0])
@pytest.mark.parametrize("turn", [0.0, 0.3])
def test_wall_that_the_target_has_not_is_no_low(draft_deg: float, turn: float) -> None:
    # A panel's edge flange standing down 25 mm from a target that ends there: no depth, whichever way rounding leans.
    draft = np.radians(draft_deg)
    down = np.arange(25.0, 0.0, -1.0)
    panel = shapes.extruded(np.append(-down * np.sin(draft), LINE), np.append(-down * np.cos(draft), 0 * LINE), ALONG)
    rotation = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    got = found_between(*(shapes.moved(s, rotation, np.zeros(3)) for s in (panel, skin("none", 0.0, False))))
    wall = np.arange(len(panel.vertices)) < len(down) * len(ALONG)
    assert not got.depth.judged[wall].any()
    assert got.depth.judged[~wall].all()
    assert np.nanmax(np.abs(got.depth.depth_mm)) < 1e-9


@pytest.mark.parametrize("gap", [3.0, 6.0])
@pytest.mark.parametrize("where", ["target", "panel", "both"])
def test_inner_skin(gap: float, where: str) -> None:
    # A second sheet behind the first, facing in as the inside of a door does; the closed form of the dent.
    def with_inner(outer: Surface, add: bool) -> Surface:
        if not add:
            return outer
        inner = skin("none", 0.0, False)
        return Surface(
            np.concatenate([outer.vertices, inner.vertices - [0, 0, gap]]),
            np.concatenate([outer.triangles, inner.triangles[:, ::-1] + len(outer.vertices)]),
        )

    panel = with_inner(skin("none", 0.0, True), where != "target")
    got = found_between(panel, with_inner(skin("none", 0.0, False), where != "panel"))
    alone = plain()
    count = len(LINE) * len(ALONG)
    np.testing.assert_allclose(got.depth.depth_mm[:count], alone.depth.depth_mm, atol=1e-9)
    assert got.fill == pytest.approx(alone.fill, rel=1e-9)
    if where == "panel":
        assert (got.depth.reason[count:] == Reason.FACES_AWAY).all()


def test_past_a_hem_is_past_the_edge() -> None:
    # A fold of 180 degrees ends the shape as a rim does: beyond it nothing is judged; above and below it, it is.
    target = skin("hem", 1.0, False)
    x, y = shapes.grid_points(10.0, 60.0, 1.0)
    panel = shapes.sheet(x - 5, y + 30, np.full_like(x, -0.5))
    got = found_between(panel, target).depth
    out = (x - 5).ravel()
    assert (got.reason[out < -0.5] == Reason.PAST_EDGE).all()
    np.testing.assert_allclose(got.depth_mm[out > 0], 0.5, atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_a_flange_under_a_shape_that_goes_on_past_it_makes_nothing_deeper(seed: int) -> None:
    # Square to the skin within 5 degrees either way, by rounding or rough metal: the flange's height is no depth.
    rng = np.random.default_rng(seed)
    height, lean = rng.uniform(4.0, 18.0), np.radians(rng.uniform(-5.0, 5.0))
    down = np.arange(height, 0.0, -1.0)
    x = np.append(20.0 - down * np.sin(lean), 20.0 + LINE[: len(LINE) - 20])
    z = np.append(-down * np.cos(lean), 0 * LINE[: len(LINE) - 20])
    panel = shapes.extruded(x, z, ALONG)
    rough = panel.vertices + rng.normal(0, 0.01, panel.vertices.shape)
    rough[:, 2] -= shapes.cosine_dent(rough[:, 0], rough[:, 1], (65.0, 60.0), (28.0, 28.0), 4.2) * (x >= 20).repeat(
        len(ALONG)
    )
    target = shapes.flat_target(WIDE, LONG)
    got = found_between(Surface(rough, panel.triangles), target)
    assert np.nanmax(got.depth.depth_mm) == pytest.approx(4.2, abs=0.1)
    # Cosine dent, calculus; the first row of the flange's foot shares its normal with the skin.
    assert got.fill == pytest.approx(np.pi * 28**2 * 4.2 * (0.5 - 2 / np.pi**2), rel=0.02, abs=60.0)
