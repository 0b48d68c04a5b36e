"""Picture: the map's pixels are the legend's colours at the right places, and nothing of the user's is touched."""

from __future__ import annotations

import math
from pathlib import Path

import bpy
import numpy as np
import pytest
from bpy_extras.object_utils import world_to_camera_view

from tests.addon.conftest import part, refused
from tests.addon.scenes import Scene, everything

WIDTH, HEIGHT = 1280, 906  # the plate two pixels a millimetre: a contour is seen whole
pytestmark = pytest.mark.drawing
KINDS = ("scenes", "objects", "meshes", "curves", "cameras", "images", "fonts", "materials", "collections")


def planned() -> None:
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}


def taken(folder: Path, **words: object) -> dict[str, np.ndarray]:
    """Pictures by file name, (rows, columns, 3), 0 to 255, first row on top, as Blender's own reader sees them."""
    words = {"width": WIDTH, "height": HEIGHT, **words}
    assert bpy.ops.fillwright.picture(folder=str(folder), **words) == {"FINISHED"}
    return {path.name: read(path) for path in sorted(folder.iterdir())}


def read(path: Path) -> np.ndarray:
    image = bpy.data.images.load(str(path))
    columns, rows = image.size
    pixels = np.array(image.pixels[:], dtype=np.float64).reshape(rows, columns, 4)
    bpy.data.images.remove(image)
    return np.rint(255 * pixels[::-1, :, :3]).astype(np.int64)


def at(picture: np.ndarray, x_mm: np.ndarray, y_mm: np.ndarray) -> np.ndarray:
    """Colours at points of the plate seen square on: it is 200 mm square and fills the map's height but for 3 %."""
    box = part("core.picture.picture").sheet(WIDTH, HEIGHT).map
    scale = box.height / (200.0 * 1.03)
    column = box.left + box.width / 2 + scale * x_mm
    row = box.top + box.height / 2 - scale * y_mm
    return picture[np.floor(row).astype(int), np.floor(column).astype(int)]


def depth_of_plate(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The closed form that `dented_plate` is made of, without its noise."""
    dent = 3.0 * np.exp(-((x - 10) ** 2 + y**2) / (2 * 15.0**2))
    return dent - 1.0 * np.exp(-((x + 60) ** 2 + (y - 50) ** 2) / (2 * 10.0**2))


def test_pixels_have_the_legends_colours(plate: Scene, tmp_path: Path) -> None:
    planned()
    for name in ("Contours", "Contours Pale", "Chalk"):  # lines lie over the colours
        bpy.data.objects.remove(bpy.data.objects[name])
    (picture,) = taken(tmp_path / "p").values()
    legend = part("core.legend.legend")
    key = legend.legend(0.25, 3.2)
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(-95.0, 95.5, 1.0), np.arange(-95.0, 95.5, 1.0)))
    depth = depth_of_plate(x, y)
    # 0.08 mm is four times the plate's noise, 0.6 mm about a pixel: nearer to an edge a pixel may fall on either side
    reach = 0.08 + 0.6 * np.hypot(*(np.gradient(depth.reshape(191, 191), 1.0))).ravel()
    steps = legend.step_of(depth, key)
    sure = np.abs(depth[:, None] - key.edges_mm).min(axis=1) > reach
    coloured = sure & (steps != key.true_step)
    assert len(np.unique(steps[coloured])) >= 5  # both signs, and several steps of each
    np.testing.assert_array_equal(at(picture, x, y)[coloured], legend.colours(depth, key)[coloured])
    # True metal is chalk with a little relief: never so dark as the next step, and on the whole chalk itself.
    chalk = at(picture, x, y)[sure & (steps == key.true_step)]
    np.testing.assert_allclose(np.median(chalk, axis=0), key.steps[key.true_step].colour, atol=2)
    assert (chalk.min(axis=0) >= 0.7 * np.array(key.steps[key.true_step].colour)).all()


def test_contours_lie_where_the_depth_is_theirs(plate: Scene, tmp_path: Path) -> None:
    """3 exp(-r^2 / 2 s^2) is 0.5 mm at r = s sqrt(2 ln 6); part of the ring is left free for its number."""
    planned()
    (picture,) = taken(tmp_path / "p").values()
    turn = np.linspace(0, 2 * np.pi, 360)

    def ring(radius: np.ndarray) -> np.ndarray:
        return at(picture, 10 + radius[:, None] * np.cos(turn), radius[:, None] * np.sin(turn)).sum(axis=-1)

    def dark(radius: float) -> float:
        """Share of the ring that is darker than the colours 2 mm within and without, by a tenth: a line of a pixel."""
        beside = np.median(ring(radius + np.array([-2.0, 2.0])), axis=1).min()
        return float((ring(np.linspace(radius - 0.7, radius + 0.7, 7)).min(axis=0) < 0.9 * beside).mean())

    assert dark(15.0 * math.sqrt(2 * math.log(6.0))) > 0.6
    for true_mm in (0.7, 1.4, 2.4):  # between contours
        assert dark(15.0 * math.sqrt(2 * math.log(3.0 / true_mm))) < 0.1


def test_nothing_of_the_users_is_touched(plate: Scene, tmp_path: Path) -> None:
    planned()
    bpy.context.scene.render.resolution_x, bpy.context.scene.render.filepath = 777, "//mine"
    bpy.context.scene.display.shading.light = "MATCAP"

    def state() -> list[object]:
        scene = bpy.context.scene
        settings = [(scene.render, "filepath"), (scene.render, "resolution_x"), (scene.render, "engine"),
                    (scene.view_settings, "view_transform"), (scene.display.shading, "light"),
                    (scene.render.image_settings, "file_format")]
        return [everything(), [getattr(owner, name) for owner, name in settings], scene.name,
                {kind: sorted(x.name for x in getattr(bpy.data, kind)) for kind in KINDS},
                plate.panel_object.data.attributes.active_color_name]

    before = state()
    files = taken(tmp_path / "p", left=True, right=True, lows=True)
    assert sorted(files) == ["Plate-map-left.png", "Plate-map-low-1.png", "Plate-map-right.png", "Plate-map.png"]
    assert {picture.shape for picture in files.values()} == {(HEIGHT, WIDTH, 3)}
    assert state() == before


def test_a_picture_prints_what_is_shown_and_nothing_that_is_switched_off(plate: Scene, tmp_path: Path) -> None:
    """Chalk wiped off leaves the colours beside it as they were, and with the map off there is nothing to print."""
    planned()
    (chalked,) = taken(tmp_path / "p").values()
    assert bpy.ops.fillwright.chalk_it() == {"FINISHED"}
    (wiped,) = taken(tmp_path / "q").values()
    changed = (chalked != wiped).any(axis=-1)
    page = part("core.picture.picture").sheet(WIDTH, HEIGHT)
    rows, columns = np.nonzero(changed)
    assert changed.sum() > 500
    assert page.map.top <= rows.min()
    assert rows.max() < page.map.top + page.map.height
    assert (chalked[changed].sum(axis=-1) < wiped[changed].sum(axis=-1)).mean() > 0.95  # graphite is dark
    assert bpy.ops.fillwright.fill_map() == {"FINISHED"}
    assert "prints what is shown" in refused(bpy.ops.fillwright.picture)


def test_a_plan_out_of_date_is_said_on_every_picture(plate: Scene, tmp_path: Path) -> None:
    """In words on a band of their own at the upper right, map and photograph alike."""
    mesh = plate.panel_object.data
    mesh.color_attributes.new("scan", "BYTE_COLOR", "POINT")
    planned()
    band = np.array(part("core.legend.band").WARNING.ground)

    def banded(folder: str) -> list[int]:
        pictures = taken(tmp_path / folder).values()
        corners = [picture[: HEIGHT // 6, WIDTH // 2 :] for picture in pictures]
        return [int((np.abs(corner - band).max(axis=-1) <= 3).sum()) for corner in corners]

    assert banded("p") == [0, 0]
    plate.target_object.location.z = 0.4
    bpy.context.view_layer.update()
    assert all(count > 1500 for count in banded("q"))


def test_a_photograph_is_taken_from_the_same_place(plate: Scene, tmp_path: Path) -> None:
    """Four quarters of four colours: each lands where its quarter of the plate does."""
    obj = plate.panel_object
    image = bpy.data.images.new("photo", 64, 64)
    pixels = np.ones((64, 64, 4), dtype=np.float32)
    pixels[..., :3] = np.array([[[1, 0, 0], [0, 1, 0]], [[0, 0, 1], [1, 1, 0]]]).repeat(32, axis=0).repeat(32, axis=1)
    image.pixels.foreach_set(pixels.ravel())
    image.update()
    layer = obj.data.uv_layers.new(name="UV")
    corners = np.array([tuple(obj.data.vertices[loop.vertex_index].co)[:2] for loop in obj.data.loops])
    layer.data.foreach_set("uv", (corners / 200.0 + 0.5).astype(np.float32).ravel())
    material = bpy.data.materials.new("Scan")
    if bpy.app.version < (5, 0, 0):  # from 5.0 on every material has nodes, and to ask for them is deprecated
        material.use_nodes = True
    node = material.node_tree.nodes.new("ShaderNodeTexImage")
    node.image = image
    material.node_tree.nodes.active = node
    obj.data.materials.append(material)
    planned()
    files = taken(tmp_path / "p")
    assert sorted(files) == ["Plate-map-photo.png", "Plate-map.png"]
    quarter = np.array([-50.0, 50.0])
    got = at(files["Plate-map-photo.png"], np.tile(quarter, 2), np.repeat(quarter, 2))
    np.testing.assert_allclose(got, [[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 0]], atol=3)
    assert sorted(taken(tmp_path / "q", photo=False)) == ["Plate-map.png"]


def test_a_scans_own_colours_are_its_photograph(plate: Scene, tmp_path: Path) -> None:
    """Colours that a scanner gives each point; the map that is drawn first takes nothing from them."""
    mesh = plate.panel_object.data
    own = mesh.color_attributes.new("scan", "BYTE_COLOR", "POINT")
    own.data.foreach_set("color", np.tile([1.0, 0.0, 1.0, 1.0], len(mesh.vertices)).astype(np.float32))
    planned()
    files = taken(tmp_path / "p", left=True)
    assert len(files) == 4
    quarter = np.array([-50.0, 50.0])
    got = at(files["Plate-map-photo.png"], np.tile(quarter, 2), np.repeat(quarter, 2))
    np.testing.assert_allclose(got, [[255, 0, 255]] * 4, atol=3)


@pytest.mark.parametrize("letter", "ωαΩДьняе")
def test_letters_are_filled_without_blots(letter: str) -> None:
    """What the outlines hold (shoelace), each as often as it is run round: less where these overlap, never more."""
    drawing, shapes = part("core.legend.drawing"), part("addon.picture.shapes")
    mesh = shapes.text_of(drawing.Text(0.0, 0.0, letter, 100.0, (0, 0, 0)))
    filled = sum(polygon.area for polygon in mesh.polygons)
    curve = bpy.data.curves.new("Outline", "FONT")
    curve.body, curve.size, curve.fill_mode = letter, 100.0, "NONE"
    outline = bpy.data.meshes.new_from_object(bpy.data.objects.new("Outline", curve))
    ends = np.array([[outline.vertices[k].co[:2] for k in edge.vertices] for edge in outline.edges])
    held = abs(float((ends[:, 0, 0] * ends[:, 1, 1] - ends[:, 1, 0] * ends[:, 0, 1]).sum()) / 2)
    assert 0.75 * held <= filled <= held * (1 + 1e-4)


@pytest.mark.parametrize("perspective", [False, True])
def test_camera_and_view_agree(plate: Scene, perspective: bool) -> None:
    """Where a view says that a point lies, beside Blender's own world_to_camera_view."""
    views, render = part("core.map.views"), part("addon.picture.render")
    rng = np.random.default_rng(5)
    points = rng.normal(size=(50, 3)) * [80.0, 30.0, 50.0]
    view = views.from_a_side(views.square_on(points, np.array([[0.3, -1.0, 0.4]]), 1.6), "left", points, 1.6)
    if perspective:
        view = views.View("p", "", view.right, view.up, view.toward, view.eye + 400.0 * view.toward, 0.3, True)
    with render.Studio() as studio:
        studio.look(view, 300.0, 1600, 1000)
        studio.scene.view_layers[0].update()
        camera = studio.scene.camera
        seen = np.array([world_to_camera_view(studio.scene, camera, bpy_vector(point)) for point in points])
    wanted = np.column_stack([1600 * seen[:, 0], 1000 * (1 - seen[:, 1])])
    np.testing.assert_allclose(view.project(points, 1600, 1000), wanted, atol=0.02)


def bpy_vector(point: np.ndarray) -> object:
    from mathutils import Vector

    return Vector(point.tolist())


def test_moved_and_mirrored_panels_are_seen_as_they_stand(plate: Scene, tmp_path: Path) -> None:
    """The same plate far away and turned gives the same picture but for a few pixels at the edges."""
    planned()
    (here,) = taken(tmp_path / "a").values()
    for obj in (plate.panel_object, plate.target_object):
        obj.location = (120_000.0, -40_000.0, 9_000.0)
    planned()
    (there,) = taken(tmp_path / "b").values()
    box = part("core.picture.picture").sheet(WIDTH, HEIGHT).map
    rows, columns = slice(box.top, box.top + box.height), slice(box.left, box.left + box.width)
    apart = np.abs(here[rows, columns] - there[rows, columns]).max(axis=-1) > 40
    assert apart.mean() < 0.005


def test_it_refuses_in_a_sentence(plate: Scene, tmp_path: Path) -> None:
    assert "Plan the fill first" in refused(bpy.ops.fillwright.picture)
    planned()
    assert "no 3D view" in refused(bpy.ops.fillwright.picture, present=True, folder=str(tmp_path))
    assert "no view is chosen" in refused(bpy.ops.fillwright.picture, square=False, folder=str(tmp_path))
    assert "save it first" in refused(bpy.ops.fillwright.picture, folder="//")
    file = tmp_path / "a file"
    file.write_text("mine")
    said = refused(bpy.ops.fillwright.picture, folder=str(file), width=640, height=450)
    assert "is a file; choose a folder" in said
    assert [path.name for path in tmp_path.iterdir()] == ["a file"]
    assert file.read_text() == "mine"
