"""Where the panel can't hold the map itself, the map object stands where the panel does."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Matrix

from tests.addon.scenes import Scene

AWAY = Matrix.Translation((310, -40, 25)) @ Matrix.Rotation(0.4, 4, (3, 1, 2))


def test_a_moved_panel_with_a_modifier_has_its_map_in_its_place(plate: Scene) -> None:
    for obj in (plate.panel_object, plate.target_object):
        obj.matrix_world = AWAY
    modifier = plate.panel_object.modifiers.new("Finer", "SUBSURF")
    modifier.subdivision_type, modifier.levels = "SIMPLE", 1
    bpy.context.view_layer.update()
    assert bpy.ops.fillwright.plan() == {"FINISHED"}
    made = bpy.data.objects["Map Plate"]
    np.testing.assert_allclose(np.array(made.matrix_world), np.array(AWAY), atol=1e-5)


def test_everything_on_the_panel_goes_where_it_goes(plate: Scene) -> None:
    """Chalk, contours and the map itself, on a panel that can't hold its map; planned where it was turned."""
    for obj in (plate.panel_object, plate.target_object):
        obj.matrix_world = AWAY
    plate.panel_object.modifiers.new("Finer", "SUBSURF").subdivision_type = "SIMPLE"
    bpy.context.view_layer.update()
    assert bpy.ops.fillwright.plan() == {"FINISHED"}
    bpy.data.objects["Fill"].hide_viewport = False
    bpy.context.view_layer.update()
    names = ("Map Plate", "Contours", "Contours Pale", "Hatch", "Dots", "Chalk", "Chalk Smudge", "Fill")
    before = {name: np.array(bpy.data.objects[name].matrix_world) for name in names}
    turn = Matrix.Translation((-70, 8, 12)) @ Matrix.Rotation(-1.1, 4, (1, 2, 0))
    plate.panel_object.matrix_world = turn @ AWAY
    bpy.context.view_layer.update()
    for name, place in before.items():
        now = np.array(bpy.data.objects[name].matrix_world)
        np.testing.assert_allclose(now, np.array(turn) @ place, atol=1e-4, err_msg=name)
    assert bpy.context.scene.fillwright.out_of_date
    plate.target_object.matrix_world = turn @ AWAY
    assert bpy.ops.fillwright.plan() == {"FINISHED"}
    bpy.context.view_layer.update()
    np.testing.assert_allclose(np.array(bpy.data.objects["Map Plate"].matrix_world), np.array(turn @ AWAY), atol=1e-4)
