"""Windings: random halves, pieces, inner skins and one-sided bands."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh

from core.errors import InputError
from core.surface.condition import mend
from core.surface.nearest import Tree
from core.surface.surface import Surface
from core.surface.windings import closed_outward, consistent, turn_to_target
from tests.seeds import seeds


def sheet(n: int = 40, lift: float = 0.0, x0: float = 0.0, width: float = 200.0) -> Surface:
    """A crowned patch that faces up, ``lift`` mm above the finished shape."""
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(x0, x0 + width, n), np.linspace(0, 150, n), indexing="ij"))
    row = np.arange(n * n).reshape(n, n)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    z = lift - ((x - 100) ** 2 + (y - 75) ** 2) / 2000
    return Surface(np.stack([x, y, z], 1), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def over(surface: Surface) -> Surface:
    return surface.turned(np.ones(len(surface.triangles), dtype=bool))


def joined(*parts: Surface) -> Surface:
    starts = np.cumsum([0] + [len(p.vertices) for p in parts])
    return Surface(np.concatenate([p.vertices for p in parts]),
                   np.concatenate([p.triangles + s for p, s in zip(parts, starts, strict=False)]))


def up(surface: Surface) -> np.ndarray:
    return surface.normals[:, 2] > 0


TARGET = sheet(57)


def to_target(panel: Surface) -> tuple[Surface, tuple[str, ...]]:
    return turn_to_target(panel, TARGET, Tree(TARGET))


@pytest.mark.parametrize("share", [0.02, 0.3, 0.7])
def test_random_triangles_turned_over_are_made_consistent(share: float) -> None:
    whole = sheet()
    for seed in range(5):
        flip = np.random.default_rng(seed).random(len(whole.triangles)) < share
        made, count = consistent(whole.turned(flip), "panel")
        # The majority keeps its side; igl's own count of oriented patches agrees that there is one.
        assert up(made).all() if share < 0.5 else not up(made).any()
        assert count == min(flip.sum(), (~flip).sum())
        assert made.half_edges.data.max() == 1
        assert igl.bfs_orient(made.triangles)[1].max() == 0


def test_majority_is_by_area_not_by_count() -> None:
    whole = sheet()
    # Big triangles at one end: a quarter of the triangles hold most of the area.
    longer = whole.vertices.copy()
    longer[longer[:, 0] > 150, 0] += 2000
    bent = Surface(longer, whole.triangles)
    few = bent.vertices[bent.triangles][:, :, 0].max(axis=1) > 150
    assert few.mean() < 0.4
    assert bent.areas[few].sum() > 0.6 * bent.area
    made, _ = consistent(bent.turned(few), "panel")
    assert not up(made).any()


def test_each_piece_keeps_its_own_majority() -> None:
    both = joined(sheet(), over(sheet(x0=300)))
    flip = np.random.default_rng(3).random(len(both.triangles)) < 0.3
    made, _ = consistent(both.turned(flip), "panel")
    assert up(made)[: len(made.triangles) // 2].all()
    assert not up(made)[len(made.triangles) // 2 :].any()


def test_a_moebius_band_is_refused() -> None:
    n = 60  # a textbook one-sided surface: half a twist in one turn
    turn, across = np.meshgrid(np.arange(n) * 2 * np.pi / n, [-10.0, 0.0, 10.0], indexing="ij")
    radius = 50 + across * np.cos(turn / 2)
    points = np.stack([radius * np.cos(turn), radius * np.sin(turn), across * np.sin(turn / 2)], -1).reshape(-1, 3)
    row = np.arange(3 * n).reshape(n, 3)
    after = np.concatenate([row[1:], row[:1, ::-1]])
    a, b, c, d = row[:, :-1].ravel(), after[:, :-1].ravel(), after[:, 1:].ravel(), row[:, 1:].ravel()
    band = Surface(points, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))
    with pytest.raises(InputError, match="panel: part of it has one side only"):
        consistent(band, "panel")
    cut = band.part((band.triangles > 2).all(axis=1))
    assert consistent(cut, "panel")[0].half_edges.data.max() == 1


def test_a_closed_shape_inside_out_is_turned() -> None:
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=100.0)
    ball = Surface(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64))
    assert closed_outward(ball) == (ball, False)
    turned, said = closed_outward(over(ball))
    assert said
    assert trimesh.Trimesh(turned.vertices, turned.triangles).volume == pytest.approx(mesh.volume)
    mended, condition = mend(over(ball), "finished shape")
    assert condition.turned_inside_out
    assert np.einsum("ij,ij->i", mended.normals, mended.corners[0]).min() > 0


def test_a_panel_that_agrees_is_left_alone() -> None:
    panel = sheet(lift=-2)
    assert to_target(panel) == (panel, ())


def test_a_panel_turned_over_whole_is_turned_back_and_said() -> None:
    made, notes = to_target(over(sheet(lift=-2)))
    assert up(made).all()
    assert len(notes) == 1
    assert "all over" in notes[0]


def test_of_two_pieces_only_the_wrong_one_is_turned() -> None:
    made, notes = to_target(joined(sheet(lift=-1, width=120), over(sheet(lift=1, x0=130, width=70))))
    assert up(made).all()
    assert notes == (f"1 piece of the panel ({sheet(x0=130, width=70).area / 100:.1f} cm²) "
                     "turned over to match the finished shape",)


@pytest.mark.parametrize("gap", [3.0, 6.0])
@pytest.mark.parametrize("turned", [False, True])
def test_an_inner_skin_stays_facing_away(gap: float, turned: bool) -> None:
    outer, inner = sheet(lift=-0.5), over(sheet(lift=-0.5 - gap, x0=40, width=90))
    made, notes = to_target(joined(inner, over(outer) if turned else outer))
    inside = np.arange(len(made.triangles)) < len(inner.triangles)
    assert up(made)[~inside].all()
    assert not up(made)[inside].any()
    assert len(notes) == int(turned)
    if turned:
        assert "all over" in notes[0]


def test_an_inner_skin_that_faces_out_is_turned_away() -> None:
    made, notes = to_target(joined(sheet(lift=-0.5), sheet(lift=-5, x0=40, width=90)))
    assert up(made).sum() == len(sheet().triangles)
    assert "inner skin" in notes[0]


def test_a_return_flange_does_not_turn_the_panel() -> None:
    # One piece: the skin and, hemmed under it, a flange of a fifth of the area that faces away.
    skin, flange = sheet(), over(sheet(lift=-6, width=40))
    first = np.flatnonzero(skin.vertices[:, 0] == 0)
    second = np.flatnonzero(flange.vertices[:, 0] == 0) + len(skin.vertices)
    wall = np.concatenate([np.stack([first[:-1], first[1:], second[1:]], 1),
                           np.stack([first[:-1], second[1:], second[:-1]], 1)])
    both = joined(skin, flange)
    panel = Surface(both.vertices, np.concatenate([both.triangles, wall]))
    panel, turned = consistent(panel, "panel")
    assert turned in (0, len(wall))
    for one in (panel, over(panel)):
        assert up(to_target(one)[0])[: len(skin.triangles)].all()


def test_a_piece_out_of_reach_has_no_say() -> None:
    panel = joined(over(sheet(lift=-1)), over(sheet(lift=300)))
    made, notes = to_target(panel)
    assert up(made).sum() == len(sheet().triangles)
    assert "all over" in notes[0]


def test_origins_may_differ() -> None:
    far = np.array([1e5, -3e4, 2e3])
    made, notes = turn_to_target(over(sheet(lift=-2)).about(far), TARGET, Tree(TARGET))
    assert up(made).all()
    assert len(notes) == 1


def rows(nx: int, ny: int, width: float, z: float) -> Surface:
    """A level sheet of 600 by ``width`` mm, its triangles in rows of ``ny`` - 1."""
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(0, 600, nx), np.linspace(0, width, ny), indexing="ij"))
    row = np.arange(nx * ny).reshape(nx, ny)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    return Surface(np.stack([x, y, 0 * x + z], 1), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


@pytest.mark.parametrize("seed", seeds(60, 12))
@pytest.mark.parametrize("shuffled", [False, True])
def test_a_loose_strip_behind_the_skin_is_an_inner_skin_however_rows_run(seed: int, shuffled: bool) -> None:
    # Rows of so many triangles that to take one in every few hundredths of the whole takes the same columns of each.
    rng = np.random.default_rng(seed)
    columns, every = int(rng.integers(8, 14)), int(rng.integers(4, 9))
    skin = rows(10_000 // columns, columns * every + 1 + int(rng.random() < 0.2), 400.0, -0.5)
    width = rng.uniform(10, 30)
    strip = rows(int(rng.integers(250, 500)), int(rng.integers(3, 9)), width, -rng.uniform(2, 15))
    panel = joined(skin, over(strip) if seed % 2 else strip)
    if shuffled:
        panel = Surface(panel.vertices, rng.permutation(panel.triangles))
    corners = np.array([[-99.0, -99, 0], [799, -99, 0], [799, 499, 0], [-99, 499, 0]])
    flat = Surface(corners, np.array([[0, 1, 2], [0, 2, 3]]))
    made, _ = turn_to_target(panel, flat, Tree(flat))
    behind = made.corners[0][:, 2] < -1
    assert up(made)[~behind].all()
    assert not up(made)[behind].any()
