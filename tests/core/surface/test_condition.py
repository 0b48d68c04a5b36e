"""The whole mending: a panel with every fault at once, and what is told of it."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

import core.surface.condition as condition_module
from core.errors import InputError
from core.surface.condition import mend
from core.surface.surface import Surface
from core.surface.thin import thin


def sheet(n: int = 60, step: float = 3.0) -> Surface:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(n) * step, np.arange(n) * step, indexing="ij"))
    row = np.arange(n * n).reshape(n, n)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    z = -((x - 80) ** 2 + (y - 90) ** 2) / 2000
    return Surface(np.stack([x, y, z], 1), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def faulty(seed: int = 0) -> Surface:
    """The sheet as a soup of triangles, shuffled, with one of each fault; its answer is the sheet."""
    rng = np.random.default_rng(seed)
    whole = sheet()
    whole = whole.turned(rng.random(len(whole.triangles)) < 0.2)
    corners = whole.vertices[whole.triangles]
    again = corners[rng.choice(len(corners), 25, replace=False)][:, ::-1]
    flat = np.repeat(corners[:7, :1], 3, axis=1)
    specks = corners[:4, :, :] * 0.05 + [0, 0, 500] + 40 * np.arange(4)[:, None, None]
    soup = np.concatenate([corners, again, flat, specks])
    soup = soup[rng.permutation(len(soup))]
    return Surface(soup.reshape(-1, 3), np.arange(3 * len(soup)).reshape(-1, 3))


@pytest.mark.parametrize("seed", range(4))
def test_every_fault_at_once_is_mended_and_said(seed: int) -> None:
    made, found = mend(faulty(seed), "panel")
    assert made.area == pytest.approx(sheet().area, rel=1e-12)
    assert (found.duplicates, found.degenerate, found.specks) == (25, 7, 4)
    assert found.specks_area_mm2 > 0
    assert 0.1 < found.windings_mended / len(made.triangles) < 0.3
    assert (found.pieces, len(found.rims), len(found.holes), found.non_manifold_edges) == (1, 1, 0, 0)
    assert (made.normals[:, 2] > 0).all()
    assert (found.vertices, found.triangles) == (3600, 2 * 59 * 59)
    said = " ".join(found.notes)
    for words in ("25 triangles that were there twice", "7 triangles without area", "4 specks", "turned over"):
        assert words in said


def test_the_way_back_to_the_input_survives_it_all() -> None:
    came = faulty()
    made, _ = mend(came, "panel")
    assert made.row_of_input is not None
    held = made.row_of_input >= 0
    np.testing.assert_array_equal(made.vertices[made.row_of_input[held]], came.vertices[held])
    assert (~held).sum() == 12  # the specks' corners; each flat triangle lies on a point that stays


def test_sizes_agree_with_trimesh() -> None:
    made, found = mend(faulty(), "panel")
    mesh = trimesh.Trimesh(made.vertices, made.triangles, process=False)  # another library
    assert found.area_mm2 == pytest.approx(mesh.area, rel=1e-12)
    assert found.longest_edge_mm == pytest.approx(mesh.edges_unique_length.max(), rel=1e-12)
    assert found.rims[0].length_mm == pytest.approx(mesh.outline().length, rel=1e-12)
    assert mesh.is_winding_consistent


def test_a_clean_sheet_has_nothing_to_say() -> None:
    whole = sheet()
    made, found = mend(whole, "panel")
    assert found.notes == ()
    assert made.area == whole.area
    assert (found.degenerate, found.duplicates, found.windings_mended, found.specks) == (0, 0, 0, 0)


def test_motion_and_order_change_no_count() -> None:
    came = faulty()
    _, still = mend(came, "panel")
    for seed in range(5):
        turn = Rotation.random(random_state=seed)
        shift = np.random.default_rng(seed).normal(size=3) * 100
        moved, found = mend(Surface(turn.apply(came.vertices) + shift, came.triangles), "panel")
        assert moved.area == pytest.approx(still.area_mm2, rel=1e-9)
        for name in ("vertices", "triangles", "degenerate", "duplicates", "windings_mended", "specks", "pieces"):
            assert getattr(found, name) == getattr(still, name)


def test_a_fin_is_parted_and_counted() -> None:
    whole = sheet(20)
    line = np.flatnonzero(whole.vertices[:, 0] == 30)
    top = len(whole.vertices) + np.arange(len(line))
    fin = np.concatenate([np.stack([line[:-1], line[1:], top[1:]], 1), np.stack([line[:-1], top[1:], top[:-1]], 1)])
    both = Surface(np.concatenate([whole.vertices, whole.vertices[line] + [0, 0, 20]]),
                   np.concatenate([whole.triangles, fin]))
    made, found = mend(both, "panel")
    assert (found.non_manifold_edges, found.pieces) == (19, 2)
    assert made.area == pytest.approx(both.area, rel=1e-12)
    assert "19 edges shared by more than two triangles parted" in found.notes


def test_thinning_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(condition_module, "thin", lambda surface: thin(surface, limit=3000))
    _, found = mend(sheet(), "panel")
    assert found.thinned_from == 2 * 59 * 59
    assert found.triangles < 3000
    assert f"thinned from 6 962 triangles to {found.triangles}" in found.notes[0]


def test_condition_goes_into_json() -> None:
    made, found = mend(faulty(), "panel")
    told = json.loads(json.dumps(found.as_dict(), allow_nan=False))
    assert told["rims"] == [{"piece": 0, "length_mm": found.rims[0].length_mm, "points": 236, "circle": None}]
    assert told["holes"] == []
    assert told["area_mm2"] == made.area
    assert told["thinned_from"] is None


V = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]])


@pytest.mark.parametrize(
    ("surface", "sentence"),
    [
        (Surface(V, np.array([[0, 1, 2]])), "it is a single triangle"),
        (Surface(V, np.array([[0, 1, 2], [2, 1, 0]])), "it is a single triangle"),
        (Surface(V, np.array([[0, 1, 2], [1, 1, 3]])), "it is a single triangle"),
        (Surface(V * [1, 0, 0], np.array([[0, 1, 2], [1, 3, 2]])), "none of its 2 triangles has an area"),
        (Surface(np.random.default_rng(0).normal(size=(9000, 3)) + np.repeat(np.arange(3000) * 9.0, 3)[:, None],
                 np.arange(9000).reshape(-1, 3)), "loose scraps that share no points"),
    ],
)
def test_what_cannot_be_mended_gets_one_sentence(surface: Surface, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as told:
        mend(surface, "panel")
    assert str(told.value).startswith("panel: ")
    assert "\n" not in str(told.value)
