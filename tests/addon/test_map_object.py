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
