"""Jobs: what they give on meshes in any frame and unit, and how they cross into another process."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.bench.materials import pick
from core.errors import InputError, NoOverlapError, OutputError
from core.jobs import as_was, good_side, line_up, plan, weigh_up
from core.jobs.folder import leave, take
from core.jobs.part import Answer, LiningUp, Part, Piece, between_units
from core.jobs.registry import answered, run
from core.place.locate_by import Locating
from core.place.motion import small
from core.place.symmetry import Plane
from core.planning.plan import Lining, Plan, make_plan
from core.progress import silent
from core.settings import Settings
from core.surface.surface import Floats, Surface
from tests.core.place.crowned import odd
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

SETTINGS, SOLDER = Settings(reach_mm=30.0), pick(Settings.material)
TURN = small(np.array([0.1, -0.05, 0.08]), np.array([30.0, 20.0, -40.0]))
FAR = np.array([4.0e4, -7.0e4, 2.0e4])


def shape() -> Surface:
    """The finished shape, which holds a panel in all six directions, a little larger than the panel."""
    x, y = grid_points(320.0, 220.0, 2.0)
    return sheet(x - 10, y - 10, odd(x - 10, y - 10))


def scan() -> Surface:
    """The panel with two dents and noise of 0.05 mm over 8 mm, away from the shape."""
    x, y = grid_points(300.0, 200.0, 2.5)
    dents = cosine_dent(x, y, (90, 70), (40, 30), 3.0) + cosine_dent(x, y, (220, 130), (25, 25), 1.5)
    noise = noise_field(x.shape, 2.5, 8.0, 0.05, np.random.default_rng(5))
    return TURN.surface(sheet(x, y, odd(x, y) - dents + noise))


PANEL, SHAPE = scan(), shape()


def part(name: str, surface: Surface, matrix: Floats | None = None, mm: float = 1.0) -> Part:
    """One mesh in mm as a part: in its own coordinates, with its place and unit."""
    return Part(name, (Piece(surface.vertices, surface.triangles, matrix),), mm)


def untidy(surface: Surface) -> Surface:
    """The same sheet with every triangle's corners its own, shuffled, and a loose point among them."""
    rng = np.random.default_rng(8)
    corners = surface.triangles.ravel()
    place = rng.permutation(len(corners) + 1)  # of each corner, the loose point last
    vertices = np.empty((len(corners) + 1, 3))
    vertices[place] = np.vstack([surface.vertices[corners], surface.vertices.mean(axis=0) + 300.0])
    return Surface(vertices, place[:-1].reshape(-1, 3))


def in_unit(shift: Floats, mm: float) -> Floats:
    """A frame whose unit is ``mm``, and its origin ``shift`` mm away, as a matrix."""
    matrix = np.eye(4) / mm
    matrix[:3, 3], matrix[3, 3] = shift / mm, 1.0
    return matrix


@pytest.mark.parametrize("kind", ["line_up", "good_side", "as_was"])
def test_a_map_has_a_value_for_each_vertex_that_came(kind: str) -> None:
    """Vertices that are one point have one value, a loose one has none; the twin asks of each point's neighbour."""
    panel, other = untidy(PANEL), TURN.surface(SHAPE)
    mine = part("panel", panel)
    request: object
    if kind == "good_side":  # held against its own mirror image
        request = good_side.Request(mine, part("other", Plane(np.array([1.0, 0.0, 0.0]), -200.0).surface(other)))
    elif kind == "line_up":
        request = line_up.Request(mine, part("other", other))
    else:
        request = as_was.Request(part("other", other), mine, 0.0)
    found = run(request, silent).arrays()["map_mm"]
    assert found.shape == (len(panel.vertices),)
    loose = np.setdiff1d(np.arange(len(panel.vertices)), panel.triangles)
    assert np.isnan(found[loose]).all()
    place, at = np.unique(np.round(panel.vertices, 6), axis=0, return_inverse=True)
    for rows in np.array_split(np.argsort(at.ravel(), kind="stable"), np.cumsum(np.bincount(at.ravel()))[:-1]):
        assert len(set(found[rows].tolist())) == 1 or np.isnan(found[rows]).all()
    assert len(place) == len(PANEL.vertices) + 1
    dent = np.linalg.norm(panel.vertices - TURN.of(np.array([[90.0, 70.0, odd(90.0, 70.0) - 3.0]])), axis=1).argmin()
    if kind == "as_was":  # 3 mm deep, less along the normal
        assert found[dent] == pytest.approx(2.9, abs=0.2)
    if kind == "good_side":  # the other panel, mirrored, stands proud of this one there
        assert found[dent] == pytest.approx(2.9, abs=0.3)
    if kind == "line_up":
        assert 0 < np.nanmax(found) < 0.05


@pytest.fixture(scope="module")
def lined() -> Plan:
    """The plain function's plan with a line-up before it."""
    return make_plan(PANEL, SHAPE, SETTINGS, SOLDER, lining=Lining())


@pytest.mark.parametrize(("shift", "mm"), [
    pytest.param(np.zeros(3), 1.0, marks=pytest.mark.calibration), (FAR, 1000.0)])
def test_a_line_up_and_then_a_plan_give_what_both_in_one_do(shift: Floats, mm: float, lined: Plan) -> None:
    """The other way to the same covariance, wherever the frame's origin is and whatever its unit."""
    target = part("target", SHAPE, in_unit(shift, mm), mm)
    found = run(line_up.Request(part("panel", PANEL), target), silent).record
    panel = part("panel", PANEL, between_units(np.array(found["matrix"]), 1.0, mm), mm)
    stated = Settings(reach_mm=30.0, line_up_uncertainty_mm=3.0)  # not asked where the placing is known
    record = run(plan.Request(panel, target, stated, placing=found["placing"]), silent).record
    assert [(a["kind"], a["number"]) for a in record["areas"]] == [(w.area.kind, w.area.number) for w in lined.works]
    for area, work in zip(record["areas"], lined.works, strict=True):
        assert area["volume_mm3"] == pytest.approx(work.area.volume_mm3, rel=1e-3)
        assert area["volume_u95_mm3"] == pytest.approx(work.area.volume_u95_mm3, rel=1e-3)
    assert record["fill_volume_u95_mm3"] == pytest.approx(lined.totals.fill_u95_mm3, rel=1e-3)
    without = run(plan.Request(panel, target, stated), silent).record
    assert without["areas"][0]["volume_u95_mm3"] > 3 * record["areas"][0]["volume_u95_mm3"]


def test_pieces_are_one_part_wherever_they_are_cut() -> None:
    """A panel in two pieces, one of them in a frame of its own and mirrored there, is planned as the whole is."""
    left = PANEL.vertices[PANEL.triangles].mean(axis=1)[:, 0] < PANEL.vertices[:, 0].mean()
    flip = np.diag([-1.0, 1.0, 1.0, 1.0])
    pieces = (Piece(PANEL.vertices, PANEL.triangles[left]),
              Piece(PANEL.vertices * [-1.0, 1.0, 1.0], PANEL.triangles[~left][:, ::-1], flip))
    target = part("target", TURN.surface(SHAPE))
    whole, cut = (run(plan.Request(one, target, SETTINGS), silent).record
                  for one in (part("panel", PANEL), Part("panel", pieces)))
    assert whole["areas"]
    assert cut["fill_volume_mm3"] == pytest.approx(whole["fill_volume_mm3"], rel=1e-9)


def test_weighed_shapes_bring_their_warnings_along() -> None:
    """One word for each shape and sentence, and the same in the shape's own row: what a plan of it warns of."""
    found = run(weigh_up.Request(part("panel", PANEL), {"Wing": part("same", PANEL)}, Settings()), silent).record
    (row,) = found["shapes"]
    assert "same surface" in row["warnings"][0]
    assert found["warnings"] == [f"Wing: {text}" for text in row["warnings"]]


def test_weighed_shapes_go_by_the_work_area_and_the_line_up_as_a_plan_does() -> None:
    target = part("shape", SHAPE)
    found = run(line_up.Request(part("panel", PANEL), target), silent).record
    matrix = np.array(found["matrix"])
    here = PANEL.vertices @ matrix[:3, :3].T + matrix[:3, 3]
    settings = Settings(reach_mm=12.0, risk=0.1, material="polyester")
    asked: dict[str, Any] = {"placing": found["placing"], "work_area": here[:, 0] < 150}
    panel = part("panel", PANEL, matrix)
    record = run(plan.Request(panel, target, settings, **asked), silent).record
    (row,) = run(weigh_up.Request(panel, {"Wing": target}, settings, **asked), silent).record["shapes"]
    assert row["fill_mm3"] == record["fill_volume_mm3"] > 0
    assert row["fill_u95_mm3"] == record["fill_volume_u95_mm3"]
    assert row["laid_mass_g"] == record["material"]["laid_mass_g"]
    assert row["warnings"] == record["warnings"]


def test_an_old_scan_that_lies_elsewhere_is_an_error() -> None:
    old = part("old", Surface(PANEL.vertices + [0, 0, 500.0], PANEL.triangles))
    with pytest.raises(NoOverlapError):
        run(as_was.Request(old, part("panel", PANEL)), silent)


def test_all_set_aside_is_refused() -> None:
    aside = LiningUp(aside=np.ones(len(PANEL.vertices), bool))
    with pytest.raises(InputError, match="panel: all of it is set aside"):
        run(line_up.Request(part("panel", PANEL), part("target", SHAPE), aside), silent)


def test_a_request_and_an_answer_come_back_as_they_went(tmp_path: Path) -> None:
    """Every kind of field there is, with names that no file system likes."""
    whole = Part("a/b", (Piece(PANEL.vertices.astype(np.float32), PANEL.triangles, np.eye(4)),), 25.4, notes=("one",))
    request = weigh_up.Request(
        whole, {"../x: ä": whole, "": part("b", SHAPE)}, Settings(scan_error_mm=0.1), None,
        np.arange(len(PANEL.vertices)) % 2 == 0, LiningUp(np.ones((3, 2, 3)), Locating(holes=True, sure_mm=0.25)),
        {"covariance": np.eye(6).tolist(), "centre_mm": [0.0, 1.0, float("nan")]}, ("note",), True,
    )
    leave(tmp_path, "request", request)
    back = take(tmp_path, "request", weigh_up.Request)
    leave(tmp_path, "again", back)
    assert (tmp_path / "again.json").read_text() == (tmp_path / "request.json").read_text()
    with np.load(tmp_path / "request.npz") as one, np.load(tmp_path / "again.npz") as other:
        assert one.files == other.files
        for name in one.files:
            assert one[name].dtype == other[name].dtype
            np.testing.assert_array_equal(one[name], other[name])
    assert back.settings == request.settings
    assert back.lining_up is not None
    assert back.lining_up.locating == Locating(holes=True, sure_mm=0.25)
    assert list(back.shapes) == list(request.shapes)
    assert back.shapes[""].source == request.shapes[""].source


def test_a_folder_that_holds_no_answer_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the work left no answer that can be read"):
        answered(tmp_path)
    leave(tmp_path, "answer", Answer({}, {"a": np.ones(3)}))
    (tmp_path / "answer.npz").write_bytes(b"half")
    with pytest.raises(OutputError, match="the work left no answer that can be read"):
        answered(tmp_path)
    with pytest.raises(OutputError, match="the temporary folder can't be written"):
        leave(tmp_path / "gone", "answer", Answer({}, {}))
