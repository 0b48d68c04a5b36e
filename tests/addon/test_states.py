"""Every state that a scan may be in, in Blender: the right answer, or one plain sentence.

The right answer is core's on the same shape, baked by Blender's own means into a plain mesh in world space.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import bmesh
import bpy
import numpy as np
import pytest
from mathutils import Matrix

from tests.addon.conftest import part, refused
from tests.addon.plain import Plain, plain
from tests.addon.scenes import Scene, everything

DEPTH = "fillwright_depth_mm"
MM = 2e-4  # Blender bakes in single precision: 100 mm have steps of 8e-6 mm, and a bent sheet adds up some


def run() -> list[bpy.types.Object]:
    """Plan; the objects that carry the result."""
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}
    return part("addon.state.scene_state").carriers(bpy.context.scene)


def depth_of(obj: bpy.types.Object) -> np.ndarray:
    found = np.empty(len(obj.data.vertices), dtype=np.float32)
    obj.data.attributes[DEPTH].data.foreach_get("value", found)
    return found


def baked(*objects: bpy.types.Object) -> bpy.types.Object:
    """One plain object of what is seen, in world space, outside the scene; faces divided as Blender shows them."""
    depsgraph = bpy.context.evaluated_depsgraph_get()
    points: list[tuple[float, ...]] = []
    triangles: list[tuple[int, ...]] = []
    for obj in objects:
        mesh = bpy.data.meshes.new_from_object(obj.evaluated_get(depsgraph), depsgraph=depsgraph)
        mesh.transform(obj.matrix_world)
        mesh.calc_loop_triangles()
        way = -1 if obj.matrix_world.determinant() < 0 else 1
        triangles += [tuple(len(points) + v for v in t.vertices)[::way] for t in mesh.loop_triangles]
        points += [tuple(v.co) for v in mesh.vertices]
        bpy.data.meshes.remove(mesh)
    mesh = bpy.data.meshes.new("baked")
    mesh.from_pydata(points, [], triangles)
    return bpy.data.objects.new("baked", mesh)


def wanted(panel: list[bpy.types.Object], target: list[bpy.types.Object], folder: Path) -> Plain:
    settings = json.loads(bpy.context.scene.fillwright.record)["settings"]
    return plain(baked(*panel), baked(*target), settings, folder)


def agree(carriers: list[bpy.types.Object], expected: Plain) -> None:
    found = np.concatenate([depth_of(obj) for obj in carriers])
    assert np.isfinite(expected.depth_mm).mean() > 0.5
    np.testing.assert_allclose(found, expected.depth_mm, atol=MM)
    areas = bpy.context.scene.fillwright.areas
    assert [area.kind for area in areas] == expected.kinds
    np.testing.assert_allclose([area.volume_mm3 for area in areas], expected.volumes_mm3, rtol=2e-3)


def both(scene: Scene) -> tuple[bpy.types.Object, bpy.types.Object]:
    return scene.panel_object, scene.target_object


# What is done to a scene, and whether the panel's own mesh can carry the result.

def mirrored(scene: Scene) -> bool:
    for obj in both(scene):
        obj.matrix_world = Matrix.Translation((300, -50, 20)) @ Matrix.Diagonal((-1, 1, 1, 1))
    return True


def sheared(scene: Scene) -> bool:
    """A turned child of an unevenly scaled parent is sheared: no place, turn and scale of its own say so."""
    parent = bpy.data.objects.new("Parent", None)
    bpy.context.scene.collection.objects.link(parent)
    parent.scale = (1.0, 1.5, 1.0)
    for obj in both(scene):
        obj.parent, obj.rotation_euler = parent, (0.1, 0.05, 0.6)
    return True


def constrained(scene: Scene) -> bool:
    leader = bpy.data.objects.new("Leader", None)
    bpy.context.scene.collection.objects.link(leader)
    leader.location = (10, 20, 30)
    for obj in both(scene):
        obj.constraints.new("COPY_LOCATION").target = leader
    return True


def shape_key(scene: Scene) -> bool:
    obj = scene.panel_object
    obj.shape_key_add(name="Basis")
    key = obj.shape_key_add(name="Deeper")
    for point in key.data:
        point.co.z *= 2.0
    key.value = 0.75
    return True


def deformed(scene: Scene) -> bool:
    modifier = scene.panel_object.modifiers.new("Deeper", "DISPLACE")
    modifier.strength, modifier.direction, modifier.mid_level = 0.4, "Z", 2.0
    return True


def divided(scene: Scene) -> bool:
    modifier = scene.panel_object.modifiers.new("Divided", "SUBSURF")
    modifier.subdivision_type, modifier.levels = "SIMPLE", 1
    return False


def several_users(scene: Scene) -> bool:
    twin = bpy.data.objects.new("Twin", scene.panel_object.data)
    bpy.context.scene.collection.objects.link(twin)
    twin.location.z = 500
    return False


def in_edit_mode(scene: Scene) -> bool:
    """With an edit that is still open."""
    obj = scene.panel_object
    bpy.context.view_layer.objects.active = obj
    bpy.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(obj.data)
    for vertex in edited.verts:
        vertex.co.z *= 1.5
    bmesh.update_edit_mesh(obj.data)
    return False


def split_seams(scene: Scene) -> bool:
    """As importers leave a scan with texture: cut open along its seams, points there twice."""
    mesh = scene.panel_object.data
    cut = bmesh.new()
    cut.from_mesh(mesh)
    seam = [edge for edge in cut.edges if all(abs(v.co.x - 10.0) < 1e-6 for v in edge.verts)]
    assert len(seam) > 50
    bmesh.ops.split_edges(cut, edges=seam)
    cut.to_mesh(mesh)
    cut.free()
    return True


def of_quads(scene: Scene) -> bool:
    mesh = scene.panel_object.data
    joined = bmesh.new()
    joined.from_mesh(mesh)
    bmesh.ops.join_triangles(joined, faces=list(joined.faces), angle_face_threshold=3.2, angle_shape_threshold=3.2)
    joined.to_mesh(mesh)
    joined.free()
    assert len(mesh.polygons) < 0.6 * len(scene.target_object.data.polygons)
    return True


def with_fake_user(scene: Scene) -> bool:
    scene.panel_object.data.use_fake_user = True
    return True


STATES: list[Callable[[Scene], bool]] = [
    mirrored, sheared, constrained, shape_key, deformed, divided, several_users, in_edit_mode, split_seams, of_quads,
    with_fake_user,
]


@pytest.mark.parametrize("state", STATES, ids=lambda state: state.__name__)
def test_each_state_gives_cores_answer(plate: Scene, state: Callable[[Scene], bool], tmp_path: Path) -> None:
    own_mesh = state(plate)
    bpy.context.view_layer.update()
    carriers = run()
    expected = wanted([plate.panel_object], [plate.target_object], tmp_path)
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    agree(carriers, expected)
    assert (carriers == [plate.panel_object]) is own_mesh
    assert (DEPTH in plate.panel_object.data.attributes) is own_mesh
    if not own_mesh:
        assert carriers[0].name in bpy.data.collections["Fillwright"].objects
        np.testing.assert_allclose(np.array(carriers[0].matrix_world), np.array(plate.panel_object.matrix_world))


def test_a_split_scan_plans_as_the_whole_one(plate: Scene) -> None:
    run()
    whole = [area.volume_mm3 for area in bpy.context.scene.fillwright.areas]
    split_seams(plate)
    run()
    np.testing.assert_allclose([area.volume_mm3 for area in bpy.context.scene.fillwright.areas], whole, rtol=1e-5)


def test_several_objects_make_one_panel(plate: Scene, tmp_path: Path) -> None:
    """The plate cut in two, one half in a place of its own; the shape in a collection too."""
    left = plate.panel_object
    right = bpy.data.objects.new("Right", left.data.copy())
    collections = [bpy.data.collections.new(name) for name in ("Panels", "Shapes")]
    for collection, objects in zip(collections, ([left, right], [plate.target_object]), strict=True):
        bpy.context.scene.collection.children.link(collection)
        for obj in objects:
            collection.objects.link(obj)
    for obj, side in ((left, 1), (right, -1)):
        half = bmesh.new()
        half.from_mesh(obj.data)
        bmesh.ops.delete(half, geom=[f for f in half.faces if side * f.calc_center_median().x > 0], context="FACES")
        half.to_mesh(obj.data)
        half.free()
    right.data.transform(Matrix.Translation((-500, 0, 0)))
    right.location.x = 500
    bpy.context.view_layer.update()
    own = bpy.context.scene.fillwright
    own.panel_collection, own.target_collection = collections
    carriers = run()
    assert [obj.name for obj in carriers] == [left.name, right.name]
    agree(carriers, wanted([left, right], [plate.target_object], tmp_path))


def test_linked_data_is_left_alone(plate: Scene, tmp_path: Path) -> None:
    """Edits of linked meshes are accepted and lost with the file: the result lies on an object of ours."""
    library = tmp_path / "scan é.blend"
    bpy.data.libraries.write(str(library), {plate.panel_object, plate.target_object})
    bpy.ops.wm.read_homefile(use_empty=True)
    with bpy.data.libraries.load(str(library), link=True) as (_there, here):
        here.objects = [plate.panel, plate.target]
    for obj in here.objects:
        bpy.context.scene.collection.objects.link(obj)
    own = bpy.context.scene.fillwright
    own.panel, own.target = here.objects
    own.panel_unit = own.target_unit = "MM"
    bpy.context.view_layer.update()
    panel, target = here.objects
    before = everything()["meshes"][panel.data.name]
    carriers = run()
    agree(carriers, wanted([panel], [target], tmp_path))
    assert carriers[0].library is None
    assert everything()["meshes"][panel.data.name] == before
    assert "linked" in refused(bpy.ops.fillwright.work_area_from_selection)


def hide(scene: Scene, how: str, on: bool) -> None:
    """Hide both meshes as H does it, as the screen's button does it, or with a collection that is switched off."""
    apart = bpy.data.collections.get("Apart")
    if apart is None:
        apart = bpy.data.collections.new("Apart")
        bpy.context.scene.collection.children.link(apart)
        for obj in both(scene):
            apart.objects.link(obj)
            bpy.context.scene.collection.objects.unlink(obj)
        bpy.context.view_layer.update()
    for obj in both(scene):
        if how == "H":
            obj.hide_set(on)
        if how == "object":
            obj.hide_viewport = on
    if how == "collection":
        bpy.context.view_layer.layer_collection.children["Apart"].exclude = on
    bpy.context.view_layer.update()


@pytest.mark.parametrize("how", ["H", "object", "collection"])
def test_what_is_moved_while_hidden_counts_as_it_is_now(plate: Scene, how: str, tmp_path: Path) -> None:
    """The shape lies within millimetres of the scan, so people hide it."""
    hide(plate, how, True)
    plate.target_object.location.z = 0.5
    plate.panel_object.data.vertices[0].co.z = 1.0
    plate.panel_object.data.update()
    carriers = run()
    hide(plate, how, False)
    agree(carriers, wanted([plate.panel_object], [plate.target_object], tmp_path))


def test_hidden_with_modifiers_and_parents(plate: Scene, tmp_path: Path) -> None:
    """Blender works out what is hidden with H, but not what is switched off: a plan would be of another shape."""
    for how in ("object", "collection"):
        hide(plate, how, True)
        if how == "object":
            deformed(plate)
            sheared(plate)
        assert "switched off in the viewport" in refused(bpy.ops.fillwright.plan)
        assert bpy.context.scene.fillwright.record == ""
        hide(plate, how, False)
    hide(plate, "H", True)
    plate.panel_object.modifiers[0].strength = 0.7
    carriers = run()
    hide(plate, "H", False)
    agree(carriers, wanted([plate.panel_object], [plate.target_object], tmp_path))


def test_what_can_not_be_planned_is_refused_in_a_sentence(plate: Scene) -> None:
    own = bpy.context.scene.fillwright
    own.target = plate.panel_object
    assert "same object" in refused(bpy.ops.fillwright.plan)
    own.target = plate.target_object
    empty = bpy.data.objects.new("Empty", bpy.data.meshes.new("Empty"))
    bpy.context.scene.collection.objects.link(empty)
    own.panel = empty
    assert "no faces" in refused(bpy.ops.fillwright.plan)
    own.panel_collection = bpy.data.collections.new("Nothing")
    assert "holds no mesh" in refused(bpy.ops.fillwright.plan)
    own.panel_collection, own.panel = None, plate.panel_object
    own.use_work_area = True
    assert "Work Area" in refused(bpy.ops.fillwright.plan)
    own.use_work_area = False
    plate.target_object.location.z = 500
    bpy.context.view_layer.update()
    assert "do not lie on one another" in refused(bpy.ops.fillwright.plan)
    plate.target_object.location.z = 0
    plate.panel_object.data.vertices[3].co.x = float("nan")
    bpy.context.view_layer.update()
    assert "not finite" in refused(bpy.ops.fillwright.plan)


def test_the_panel_is_deleted_or_edited_meanwhile(plate: Scene, tmp_path: Path) -> None:
    """The answer still has a place: a map of what was planned."""
    job = part("addon.plan.job")
    for change in ("grown", "deleted"):
        asked = job.prepare(bpy.context).lay_out()
        expected_count = len(plate.panel_object.data.vertices)
        if change == "grown":
            plate.panel_object.data.vertices.add(1)
            plate.panel_object.data.update()
        else:
            bpy.data.objects.remove(plate.panel_object)
        asked.start()
        assert asked.child.wait() == 0
        job.take(bpy.context, asked)
        asked.child.clear()
        (carrier,) = part("addon.state.scene_state").carriers(bpy.context.scene)
        assert carrier.name.startswith("Map ")
        assert len(depth_of(carrier)) == expected_count
        assert bpy.context.scene.fillwright.out_of_date, change


def test_what_is_made_is_a_valid_mesh(plate: Scene) -> None:
    """Blender's own check, which finds nothing to put right in a map of our making and in the fill."""
    divided(plate)
    run()
    for name in ("Map Plate", "Fill"):
        mesh = bpy.data.objects[name].data
        assert len(mesh.polygons) > 100, name
        before = len(mesh.polygons), len(mesh.edges)
        assert not mesh.validate(verbose=True), name
        assert (len(mesh.polygons), len(mesh.edges)) == before


def test_a_scene_that_shares_its_panel_with_another_says_when_that_was_planned(plate: Scene) -> None:
    """Depths are written on the panel that both have: the plan of the first is not what it shows any more."""
    run()
    first = bpy.context.scene
    assert not first.fillwright.out_of_date
    bpy.ops.scene.new(type="LINK_COPY")
    second = bpy.context.scene
    second.fillwright.true_mm = 1.0
    run()
    assert not second.fillwright.out_of_date
    bpy.context.window.scene = first
    part("addon.map.scene_shown").look()
    assert first.fillwright.out_of_date
    run()
    assert not first.fillwright.out_of_date
