"""The whole job as one function: what stays the same whatever is done to the meshes, what it refuses, how it stops.

Sources: the same answer under rigid motion, reordering and change of winding (geometry); the GUM (JCGM 100, 5.2) for
sums of uncertainties; solid geometry for volumes.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from core.bench.cautions import CLOSING
from core.bench.materials import pick
from core.errors import Cancelled, InputError, NoOverlapError
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

SOLDER = pick("tin-lead-30-70")


def panel_of(step: float = 3.0) -> Surface:
    """A crowned sheet with a low of 2 mm and a high of 1 mm."""
    x, y = grid_points(180.0, 90.0, step)
    dents = cosine_dent(x, y, (50, 45), (35, 35), 2.0) - cosine_dent(x, y, (130, 45), (30, 30), 1.0)
    return sheet(x, y, -((x - 90) ** 2) / 2000 - dents)


def target_of() -> Surface:
    x, y = grid_points(220.0, 130.0, 4.0)
    x, y = x - 20, y - 20
    return sheet(x, y, -((x - 90) ** 2) / 2000)


def planned(panel: Surface, target: Surface, **changes: object) -> Plan:
    return make_plan(panel, target, Settings(**changes), SOLDER)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def usual() -> Plan:
    return planned(panel_of(), target_of())


def figures(plan: Plan) -> Floats:
    """Everything of a plan that does not depend on where it lies."""
    return np.array([
        [w.area.area_mm2, w.area.perimeter_mm, w.area.volume_mm3, w.area.volume_u95_mm3, w.area.depth_max_mm,
         w.minimum_overbuild_mm, w.margin_area_mm2, w.laid_volume_mm3] for w in plan.works
    ])


def deepest(plan: Plan) -> Floats:
    return np.array([w.area.deepest_point_mm for w in plan.works])


def test_one_low_and_one_high(usual: Plan) -> None:
    assert [work.area.name for work in usual.works] == ["Low 1", "High 1"]
    low, high = (work.area for work in usual.works)
    assert np.hypot(low.deepest_point_mm[0] - 50, low.deepest_point_mm[1] - 45) < 4
    assert np.hypot(high.deepest_point_mm[0] - 130, high.deepest_point_mm[1] - 45) < 4
    # Cosine dent (calculus), on chords of 3 mm under a crown: within 2 %.
    assert low.volume_mm3 == pytest.approx(np.pi * 35**2 * 2.0 * (0.5 - 2 / np.pi**2), rel=0.02)
    assert high.volume_mm3 == pytest.approx(np.pi * 30**2 * 1.0 * (0.5 - 2 / np.pi**2), rel=0.03)


@cache
def usual_figures() -> tuple[Floats, Floats]:
    plan = planned(panel_of(), target_of())
    return figures(plan), deepest(plan)


@settings(max_examples=12, deadline=None, phases=[Phase.generate])
@given(
    turn=st.tuples(*[st.floats(-3, 3)] * 3), move=st.tuples(*[st.floats(-1e5, 1e5)] * 3), seed=st.integers(0, 2**31),
)
def test_the_same_plan_anywhere_and_in_any_order(
    turn: tuple[float, ...], move: tuple[float, ...], seed: int
) -> None:
    """Rigid motions out to 100 m, vertices and triangles shuffled. Uncertainties rest on a sample of blocks of the
    sound metal, which lie otherwise on a panel that is turned."""
    usual, usual_deepest = usual_figures()
    rng, rotation = np.random.default_rng(seed), Rotation.from_rotvec(turn)

    def moved(surface: Surface) -> Surface:
        order = rng.permutation(len(surface.vertices))
        place = np.argsort(order)
        triangles = place[surface.triangles][rng.permutation(len(surface.triangles))]
        return Surface(rotation.apply(surface.vertices[order]) + move, triangles)

    found = planned(moved(panel_of()), moved(target_of()))
    uncertain = 3
    assert np.delete(figures(found), uncertain, 1) == pytest.approx(np.delete(usual, uncertain, 1), rel=1e-5)
    assert figures(found)[:, uncertain] == pytest.approx(usual[:, uncertain], rel=0.02)
    # A level bottom has several deepest points: the depth there is what counts, and it is within a cell of them.
    back = rotation.inv().apply(deepest(found) - move)
    assert np.linalg.norm(back - usual_deepest, axis=1).max() < 4.5


def test_the_same_to_the_last_bit_on_any_number_of_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    """One, two and seven, and the two meshes mended one after the other; large enough for several blocks."""
    pair = panel_of(0.6), target_of()

    def all_of(plan: Plan) -> list[Floats]:
        lie, metal = plan.survey.depth, plan.panel.surface
        return [figures(plan), lie.depth_mm, lie.feet, plan.survey.inside.fill_mm3, metal.vertices]

    first = all_of(planned(*pair))
    assert len(first[3]) > 2 * 32_768
    for processors, most_at_once in ((1, 10**7), (2, 10**7), (7, 10**7), (2, 0)):
        monkeypatch.setattr("os.cpu_count", lambda processors=processors: processors)
        monkeypatch.setattr("core.planning.plan._MOST_AT_ONCE", most_at_once)
        for one, other in zip(first, all_of(planned(*pair)), strict=True):
            np.testing.assert_array_equal(one, other)


def test_a_panel_turned_over_whole_or_in_part_gives_the_same_plan(usual: Plan) -> None:
    panel = panel_of()
    rng = np.random.default_rng(1)
    for flip in (np.ones(len(panel.triangles), dtype=bool), rng.random(len(panel.triangles)) < 0.3):
        found = planned(panel.turned(flip), target_of())
        assert figures(found) == pytest.approx(figures(usual), rel=1e-9)
    over = planned(panel.turned(np.ones(len(panel.triangles), dtype=bool)), target_of())
    assert len(over.warnings) == len(usual.warnings) + 1


def test_the_meshes_that_came_are_not_changed() -> None:
    panel, target = panel_of(), target_of()
    kept = [array.copy() for mesh in (panel, target) for array in (mesh.vertices, mesh.triangles)]
    planned(panel, target)
    for array, was in zip((panel.vertices, panel.triangles, target.vertices, target.triangles), kept, strict=True):
        assert (array == was).all()


def test_totals_add_up(usual: Plan) -> None:
    two = panel_of()
    shifted = Surface(two.vertices + [0, 200.0, 0], two.triangles)
    both = Surface(np.concatenate([two.vertices, shifted.vertices]),
                   np.concatenate([two.triangles, two.triangles + len(two.vertices)]))
    x, y = grid_points(220.0, 330.0, 4.0)
    found = planned(both, sheet(x - 20, y - 20, -((x - 110) ** 2) / 2000))
    lows = [work for work in found.works if work.area.kind == "low"]
    assert [work.area.number for work in lows] == [1, 2]
    assert found.totals.fill_mm3 == pytest.approx(2 * usual.totals.fill_mm3, rel=1e-3)
    assert found.totals.laid_mm3 == pytest.approx(sum(work.laid_volume_mm3 for work in lows))
    # Two areas on one panel are 0.05 mm out together: less often wrong than two accidents, more often than one.
    assert 0.05 < 0.093 < found.totals.risk_job < 1 - 0.95**2 - 0.0005
    # GUM 5.2: the noise of two areas adds in squares, the line-up that they share adds up.
    noise = np.hypot(*(work.area.noise_mm3 for work in lows))
    shared = sum(work.area.offset_mm3 for work in lows)
    # Line-up uncertainty times the area that is summed: the low and its hem, 8 mm all around (a vertex row either way).
    places = [place for place, work in enumerate(found.works, start=1) if work.area.kind == "low"]
    summed = found.panel.surface.areas[np.isin(found.survey.areas.hemmed, places)].sum()
    assert shared == pytest.approx(0.05 * summed, rel=1e-9)
    assert 2 * np.pi * 35**2 < summed < 2 * np.pi * (35 + 8 + 6) ** 2
    wanted = found.survey.noise.factor_95 * np.hypot(noise, shared)
    assert found.totals.fill_u95_mm3 == pytest.approx(wanted, rel=1e-9)
    assert found.totals.fill_u95_mm3 > np.hypot(*(work.area.volume_u95_mm3 for work in lows))


def test_a_work_area_leaves_out_the_rest(usual: Plan) -> None:
    panel = panel_of()
    left = make_plan(panel, target_of(), Settings(), SOLDER, panel.vertices[:, 0] < 95)
    assert [work.area.name for work in left.works] == ["Low 1"]
    assert left.totals.fill_mm3 == pytest.approx(usual.totals.fill_mm3, rel=0.01)
    assert left.totals.cut_mm3 == 0.0
    for marks, words in (
        (np.zeros(len(panel.vertices), dtype=bool), "no vertex of the panel is in it"),
        (np.ones(7, dtype=bool), "7 marks came for a panel of"),
    ):
        with pytest.raises(InputError, match=f"^work area: .*{words}"):
            make_plan(panel, target_of(), Settings(), SOLDER, marks)


def test_what_cannot_be_planned() -> None:
    panel, target = panel_of(), target_of()
    with pytest.raises(NoOverlapError, match=r"do not lie on one another.*boxes 493\.6 mm apart"):
        planned(panel, Surface(target.vertices + [0, 0, 500.0], target.triangles))
    for small, large in (
        (Surface(panel.vertices / 1000, panel.triangles), target),
        (panel, Surface(target.vertices * 1000, target.triangles)),
    ):
        with pytest.raises(InputError, match="their units differ: state --panel-unit and --target-unit"):
            planned(small, large)


def test_progress_rises_to_the_end_and_can_stop_at_every_step() -> None:
    panel, target = panel_of(), target_of()
    heard: list[tuple[float, str]] = []
    make_plan(panel, target, Settings(), SOLDER, None, lambda share, step: heard.append((share, step)))
    shares = [share for share, _ in heard]
    assert shares == sorted(shares)
    assert shares[0] == 0.0
    assert 0.8 < shares[-1] <= 1.0
    for stop, (_, step) in enumerate(heard):
        left = [stop]

        def no(share: float, word: str, left: list[int] = left) -> bool:
            left[0] -= 1
            return left[0] >= 0

        with pytest.raises(Cancelled, match=step):
            make_plan(panel, target, Settings(), SOLDER, None, no)


def test_a_flat_panel_on_its_target_has_no_areas_and_nothing_to_buy() -> None:
    x, y = grid_points(120.0, 90.0, 3.0)
    found = planned(sheet(x, y, 0 * x), flat_target(120.0, 90.0))
    assert found.works == ()
    assert (found.totals.fill_mm3, found.totals.cut_mm3, found.totals.laid_mm3, found.totals.risk_job) == (0, 0, 0, 0)
    assert (found.totals.fill_u95_mm3, found.totals.cut_u95_mm3, found.totals.minimum_overbuild_mm) == (0, 0, 0)
    assert found.quantity.packs == 0


@pytest.mark.parametrize("name", ["tin-lead-30-70", "lead-free", "polyester"])
def test_each_caution_is_said_once_and_the_advice_last(name: str) -> None:
    x, y = grid_points(120.0, 90.0, 3.0)
    found = make_plan(sheet(x, y, 0 * x), flat_target(120.0, 90.0), Settings(), pick(name))
    said = [text for moment in found.cautions for text in moment.sentences]
    assert len(set(said)) == len(said)
    assert pick(name).cautions == found.cautions
    assert said[-1] == CLOSING
