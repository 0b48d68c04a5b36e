"""A surface set off: Steiner's formula on crowned shapes, and no crossing in hollow corners."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.shape.set_off import cramped_mm2, set_off
from core.surface.nearest import Tree
from core.surface.surface import Surface
from tests.core.shapes import extruded, grid_points, lidded, moved, roof, saddle_patch, sheet, shuffled


def off(shape, outward_mm):
    return set_off(shape, Tree(shape), outward_mm)


def volume(surface):
    return trimesh.Trimesh(surface.vertices, surface.triangles, process=False).volume


def between(shape, other):
    """Volume of the layer between a sheet and its offset: the prism between each pair of triangles, cut in three."""
    total = 0.0
    a, b = shape.vertices[shape.triangles], other.vertices[shape.triangles]
    for p, q, r, s in ((a[:, 0], a[:, 1], a[:, 2], b[:, 2]), (a[:, 0], a[:, 1], b[:, 2], b[:, 1]),
                       (a[:, 0], b[:, 1], b[:, 2], b[:, 0])):
        total += np.einsum("ij,ij->i", q - p, np.cross(r - p, s - p)).sum() / 6
    return abs(total)


def ball(radius=100.0):
    made = trimesh.creation.icosphere(subdivisions=5, radius=radius)
    return Surface(np.array(made.vertices), np.array(made.faces, dtype=np.int64))


@pytest.mark.parametrize(("outward", "steiner"), [(2.0, 256_387.4709), (-2.0, 246_334.3744)])
def test_sphere_as_steiner_says(outward, steiner):
    """FACTS 6: sphere R = 100, t = 2, Steiner's formula; in and out differ by 4 %, the mesh's area by 0.03 %."""
    sphere = ball()
    assert abs(volume(off(sphere, outward)) - volume(sphere)) == pytest.approx(steiner, rel=5e-4)


def test_cylinder_as_steiner_says():
    """FACTS 6: cylinder R = 500, 300 x 200 (arc), t = 3, inside: 179 460 mm3."""
    arc, along = grid_points(200, 300, 2.0)
    cylinder = sheet(500 * np.sin(arc / 500), along, 500 * np.cos(arc / 500))
    assert between(cylinder, off(cylinder, -3.0)) == pytest.approx(179_460, rel=1e-4)


def test_saddle_as_steiner_says():
    """V = A t - t^2 int H + t^3/3 int K, H and K of z = (x^2 - y^2) / 2R by do Carmo's formulas (from memory)."""
    x, y = (each - 100 for each in grid_points(200, 200, 2.0))
    saddle = saddle_patch(x, y, 150.0, 0 * x)
    zx, zy, stretch = x / 150, -y / 150, 1 + (x**2 + y**2) / 150**2
    mean = -(((1 + zy**2) - (1 + zx**2)) / 150) / (2 * stretch**1.5)
    gauss = -1 / 150**2 / stretch**2
    layer = (4.0 + 0 * x) - 16.0 * mean + 64.0 / 3 * gauss
    weight = np.ones_like(x)
    weight[[0, -1]] /= 2
    weight[:, [0, -1]] /= 2  # trapezoid rule
    expected = (layer * np.sqrt(stretch) * weight).sum() * 4.0
    assert between(saddle, off(saddle, -4.0)) == pytest.approx(expected, rel=1e-4)
    assert between(saddle, off(saddle, -4.0)) == pytest.approx(volume_of_lid(saddle, -4.0), rel=5e-5)


def volume_of_lid(shape, outward):
    """The same layer as a closed body by trimesh: the offset taken with the sheet's own walls between."""
    places, triangles = lidded(shape, 1.0)
    count = len(shape.vertices)
    places[count:] = shape.vertices
    places[:count] = off(shape, outward).vertices
    return abs(trimesh.Trimesh(places, triangles, process=False).volume)


def test_flat_and_nothing():
    x, y = grid_points(60, 40, 5.0)
    flat = sheet(x, y, 0 * x)
    np.testing.assert_allclose(off(flat, -2.5).vertices, flat.vertices - [0, 0, 2.5], atol=1e-12)
    assert off(flat, 0.0) is flat


@pytest.mark.parametrize("turn_deg", [30.0, 90.0, 110.0])
@pytest.mark.parametrize("left_mm", [1.0, 4.0], ids=["even", "uneven"])
@pytest.mark.parametrize("outward", [2.0, -2.0])
def test_a_sharp_ridge_keeps_its_mitre(turn_deg, left_mm, outward):
    """Two planes set off are two planes, which meet t / cos(half turn) along the bisector, whatever the triangles."""
    u = np.concatenate([np.arange(-40, 0, left_mm), np.arange(0, 41, 1.0)])
    ridge = roof(u, np.linspace(0, 20, 11), turn_deg)
    section = off(ridge, outward).vertices.reshape(len(u), -1, 3)
    half = np.radians(turn_deg) / 2
    np.testing.assert_allclose(section[u == 0, :, 2], outward / np.cos(half), atol=0.03)
    np.testing.assert_allclose(section[u == 0, :, 0], 0, atol=0.03)
    planes = section[..., 2] * np.cos(half) + np.abs(section[..., 0]) * np.sin(half)
    np.testing.assert_allclose(planes, outward, atol=0.03)


def angle(fillet, leg=60.0, step=1.5):
    """An L section: two legs and a fillet of radius ``fillet``; outside is the hollow side."""
    turn = np.linspace(np.pi, 1.5 * np.pi, 9 if fillet else 1)
    down = np.arange(leg, 0, -step)
    x = np.concatenate([0 * down, fillet + fillet * np.cos(turn), fillet + down[::-1]])
    z = np.concatenate([fillet + down, fillet + fillet * np.sin(turn), 0 * down])
    return extruded(x, z, np.linspace(0, 20, 9)), len(x)


@pytest.mark.parametrize("fillet", [0.0, 1.0, 2.0, 10.0])
def test_in_a_hollow_corner_it_does_not_cross_itself(fillet):
    """Set out by 3 mm on the hollow side: never nearer to the shape than 3 mm, and the section never turns back."""
    shape, count = angle(fillet)
    tree = Tree(shape)
    moved_off = set_off(shape, tree, 3.0)
    middles = moved_off.vertices[moved_off.triangles].mean(axis=1)
    assert tree.nearest(moved_off.vertices).distance_mm.min() >= 3.0 - 4e-3
    assert tree.nearest(middles).distance_mm.min() >= 3.0 - 8e-3  # chords over the fillet's facets
    section = moved_off.vertices.reshape(count, -1, 3)[:, 4]
    assert np.diff(section[:, 0]).min() > -5e-3  # from the one leg to the other without a loop
    assert np.diff(section[:, 2]).max() < 5e-3
    # Away from the corner the legs lie exactly 3 mm off.
    np.testing.assert_allclose(section[:30, 0], 3.0, atol=1e-9)
    np.testing.assert_allclose(section[-30:, 2], 3.0, atol=1e-9)


def test_a_corner_tighter_than_the_thickness_gathers_at_the_corner_line():
    """By hand: with legs on x = 0 and z = 0 the corner line of a layer of 3 mm is x = z = 3."""
    shape, count = angle(2.0)
    section = off(shape, 3.0).vertices.reshape(count, -1, 3)[:, 4]
    gathered = section[np.hypot(section[:, 0] - 3, section[:, 2] - 3) < 0.01]
    assert len(gathered) >= 9  # the whole fillet


def test_a_hollow_corner_of_three_faces():
    """The inside of a box of 40 mm, set in by 3: a box of 34 mm, whatever its corners."""
    box = trimesh.creation.box((40, 40, 40)).subdivide().subdivide().subdivide()
    inside_out = Surface(np.array(box.vertices), np.array(box.faces, dtype=np.int64)[:, ::-1])
    room = off(inside_out, 3.0)
    np.testing.assert_allclose(np.abs(room.vertices).max(), 17.0, atol=1e-2)
    assert -volume(room) == pytest.approx(34**3, rel=1e-3)


def test_a_box_grows_with_mitred_corners():
    """Twelve edges and eight corners: 46^3 for 40 mm and 3 mm, as carpenters' mitres give it."""
    box = trimesh.creation.box((40, 40, 40)).subdivide().subdivide().subdivide()
    solid = Surface(np.array(box.vertices), np.array(box.faces, dtype=np.int64))
    assert volume(off(solid, 3.0)) == pytest.approx(46**3, rel=1e-3)


def test_out_and_in_again_on_a_round_shape():
    sphere = ball(50.0)
    np.testing.assert_allclose(off(off(sphere, 2.0), -2.0).vertices, sphere.vertices, atol=5e-3)


def test_the_same_in_any_order_and_place():
    rng = np.random.default_rng(0)
    shape, _ = angle(2.0)
    turn = np.linalg.qr(rng.standard_normal((3, 3)))[0]
    turn *= np.linalg.det(turn)
    other, row = shuffled(moved(shape, turn, np.array([40.0, -9, 7])), rng)
    found = (off(other, 3.0).vertices[row] - [40.0, -9, 7]) @ turn
    np.testing.assert_allclose(found, off(shape, 3.0).vertices, atol=6e-3)


def hem():
    """A face, an edge turned back on 1.75 mm, and a flange of 25 mm width 3.5 mm behind the face; its section's x."""
    turn = np.linspace(0, np.pi, 13)[1:-1]
    run = np.arange(0, 40, 1.0)
    x = np.concatenate([-30 + run, 10 + 1.75 * np.sin(turn), np.arange(10, -16, -1.0)])
    z = np.concatenate([0 * run, -1.75 + 1.75 * np.cos(turn), np.full(26, -3.5)])
    return extruded(x, z, np.linspace(0, 20, 9)), x


def test_a_hem_closer_than_twice_the_thickness_leaves_the_face_right():
    """A face with a flange 3.5 mm behind it, set in by 1.5 mm each: 0.5 mm is left between, and nothing crosses."""
    shape, x = hem()
    tree = Tree(shape)
    set_in = set_off(shape, tree, -1.5)
    assert tree.nearest(set_in.vertices).distance_mm.min() > 1.5 - 4e-3
    face = set_in.vertices.reshape(len(x), -1, 3)[:30, 4]
    np.testing.assert_allclose(face[:, 2], -1.5, atol=1e-6)
    assert cramped_mm2(shape, tree, set_in, -1.5) == 0.0


@pytest.mark.parametrize("thickness", [2.2, 3.0, 5.0])
def test_a_hem_without_room_for_the_thickness_is_told(thickness):
    """No point between face and flange lies 2 mm from both: 25 mm of face, of flange and the edge, 20 mm long, less
    what the thickness lets out at the open end (by hand); in front of the flange there is room, and it is right."""
    shape, x = hem()
    tree = Tree(shape)
    set_in = set_off(shape, tree, -thickness)
    fold = (25 + 25 + 1.75 * np.pi) * 20
    assert cramped_mm2(shape, tree, set_in, -thickness) == pytest.approx(fold, abs=2 * (thickness + 1) * 20)
    section = set_in.vertices.reshape(len(x), -1, 3)[:, 4]
    np.testing.assert_allclose(section[x[: len(x)] < -16 - thickness, 2], -thickness, atol=1e-6)
