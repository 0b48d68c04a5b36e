"""Plans and line-ups asked for through a folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.bench.materials import pick
from core.errors import NoOverlapError
from core.exchange import answer
from core.exchange_shapes import answer_shape
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


def put(folder: Path, name: str, surface: Surface, matrix: Floats, mm: float, marks: Any = None) -> None:
    """One mesh in mm as the other side leaves it: in its own coordinates, with its place and unit."""
    marked = {} if marks is None else {"work_area": marks}
    np.savez(folder / f"{name}.npz", vertices=surface.vertices, triangles=surface.triangles, matrix=matrix,
             mm_per_unit=mm, **marked)


def ask(folder: Path, **request: Any) -> dict[str, Any]:
    """A request answered: its figures."""
    (folder / "request.json").write_text(json.dumps(request), encoding="utf-8")
    if "kind" in request:
        answer_shape(folder, silent)
        return dict(json.loads((folder / "answer.json").read_text(encoding="utf-8")))
    answer(folder, silent)
    return dict(json.loads((folder / "plan.json").read_text(encoding="utf-8")))


def untidy(surface: Surface) -> Surface:
    """The same sheet with every triangle's corners its own, shuffled, and a loose point among them."""
    dice = np.random.default_rng(8)
    corners = surface.triangles.ravel()
    place = dice.permutation(len(corners) + 1)  # of each corner, the loose point last
    vertices = np.empty((len(corners) + 1, 3))
    vertices[place] = np.vstack([surface.vertices[corners], surface.vertices.mean(axis=0) + 300.0])
    return Surface(vertices, place[:-1].reshape(-1, 3))


def in_unit(shift: Floats, mm: float) -> Floats:
    """A frame whose unit is ``mm``, and its origin ``shift`` mm away, as a matrix."""
    matrix = np.eye(4) / mm
    matrix[:3, 3], matrix[3, 3] = shift / mm, 1.0
    return matrix


@pytest.mark.parametrize("kind", ["line_up", "good_side", "as_was"])
def test_a_map_has_a_value_for_each_vertex_that_came(kind: str, tmp_path: Path) -> None:
    """Vertices that are one point have one value, a loose one has none; the twin asks of each point's neighbour."""
    panel, other = untidy(PANEL), TURN.surface(SHAPE)
    put(tmp_path, "panel", panel, np.eye(4), 1.0)
    put(tmp_path, "other", other, np.eye(4), 1.0)
    role = {"line_up": "target", "good_side": "partner", "as_was": "old"}[kind]
    mine = "body" if kind == "good_side" else "panel"
    if kind == "good_side":  # held against its own mirror image
        put(tmp_path, "other", Plane(np.array([1.0, 0.0, 0.0]), -200.0).surface(other), np.eye(4), 1.0)
    ask(tmp_path, kind=kind, **{mine: ["panel"], role: ["other"]}, paint_mm=0.0)
    with np.load(tmp_path / "answer.npz") as arrays:
        found, has_shape = arrays["map_mm"], "vertices" in arrays.files
    assert has_shape == (kind != "line_up")
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


@pytest.mark.parametrize(("shift", "mm"), [(np.zeros(3), 1.0), (FAR, 1000.0)])
def test_a_line_up_and_then_a_plan_give_what_both_in_one_do(
    shift: Floats, mm: float, lined: Plan, tmp_path: Path
) -> None:
    """The other way to the same covariance, wherever the frame's origin is and whatever its unit."""
    put(tmp_path, "panel", PANEL, in_unit(np.zeros(3), 1.0), 1.0)  # a frame of its own
    put(tmp_path, "target", SHAPE, in_unit(shift, mm), mm)
    found = ask(tmp_path, kind="line_up", panel=["panel"], target=["target"])
    put(tmp_path, "panel", PANEL, np.array(found["matrix"]), mm)
    stated = {"reach_mm": 30.0, "line_up_uncertainty_mm": 3.0}  # not asked where the placing is known
    asked: dict[str, Any] = {
        "panel": ["panel"], "target": ["target"], "settings": stated, "material": SOLDER.name, "unit": "mm",
    }
    record = ask(tmp_path, **asked, placing=found["placing"])
    assert [(a["kind"], a["number"]) for a in record["areas"]] == [(w.area.kind, w.area.number) for w in lined.works]
    for area, work in zip(record["areas"], lined.works, strict=True):
        assert area["volume_mm3"] == pytest.approx(work.area.volume_mm3, rel=1e-3)
        assert area["volume_u95_mm3"] == pytest.approx(work.area.volume_u95_mm3, rel=1e-3)
    assert record["fill_volume_u95_mm3"] == pytest.approx(lined.totals.fill_u95_mm3, rel=1e-3)
    without = ask(tmp_path, **asked)
    assert without["areas"][0]["volume_u95_mm3"] > 3 * record["areas"][0]["volume_u95_mm3"]


def test_weighed_shapes_bring_their_warnings_along(tmp_path: Path) -> None:
    """One word for each shape and sentence, and the same in the shape's own row: what a plan of it warns of."""
    put(tmp_path, "panel", PANEL, np.eye(4), 1.0)
    put(tmp_path, "same", PANEL, np.eye(4), 1.0)
    found = ask(tmp_path, kind="weigh_up", panel=["panel"], shapes={"Wing": ["same"]}, settings={},
                material="tin-lead-30-70")
    (row,) = found["shapes"]
    assert "same surface" in row["warnings"][0]
    assert found["warnings"] == [f"Wing: {text}" for text in row["warnings"]]


def test_weighed_shapes_go_by_the_work_area_and_the_line_up_as_a_plan_does(tmp_path: Path) -> None:
    put(tmp_path, "shape", SHAPE, np.eye(4), 1.0)
    put(tmp_path, "panel", PANEL, np.eye(4), 1.0)
    found = ask(tmp_path, kind="line_up", panel=["panel"], target=["shape"])
    here = PANEL.vertices @ np.array(found["matrix"])[:3, :3].T + np.array(found["matrix"])[:3, 3]
    put(tmp_path, "panel", PANEL, np.array(found["matrix"]), 1.0, here[:, 0] < 150)
    asked: dict[str, Any] = {"panel": ["panel"], "settings": {"reach_mm": 12.0, "risk": 0.1}, "material": "polyester",
                             "placing": found["placing"]}
    record = ask(tmp_path, **asked, target=["shape"], work_area=True, unit="mm")
    (row,) = ask(tmp_path, kind="weigh_up", shapes={"Wing": ["shape"]}, marked=True, **asked)["shapes"]
    assert row["fill_mm3"] == record["fill_volume_mm3"] > 0
    assert row["fill_u95_mm3"] == record["fill_volume_u95_mm3"]
    assert row["laid_mass_g"] == record["material"]["laid_mass_g"]
    assert row["warnings"] == record["warnings"]


def test_an_old_scan_that_lies_elsewhere_is_an_error(tmp_path: Path) -> None:
    put(tmp_path, "panel", PANEL, np.eye(4), 1.0)
    put(tmp_path, "old", Surface(PANEL.vertices + [0, 0, 500.0], PANEL.triangles), np.eye(4), 1.0)
    with pytest.raises(NoOverlapError):
        ask(tmp_path, kind="as_was", panel=["panel"], old=["old"], paint_mm=0.2)
