"""Find the Damage marks what core's function does; the line-up takes paint and rims as they are set."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np

from tests.addon.conftest import refused
from tests.addon.plain_shapes import damage, plain_shape
from tests.addon.shape_scenes import crowned, own, set_out

OPS = bpy.ops.fillwright


def test_the_marks_are_those_of_the_plain_function(empty: bpy.types.Scene, tmp_path: Path) -> None:
    panel = crowned("Wing")
    set_out(panel, None)
    rows = plain_shape("suggest", tmp_path, {"panel": panel})[0]["rows"]
    assert rows
    assert OPS.suggest_damage() == {"FINISHED"}
    np.testing.assert_array_equal(np.flatnonzero(damage(panel)), rows)
    outline = bpy.data.objects["Damage on Wing"]
    # A closed line: as many edges as points, each of which is one of the marked vertices, and follows the panel.
    assert len(outline.data.edges) == len(outline.data.vertices) > 20
    places = {tuple(panel.data.vertices[row].co) for row in rows}
    assert {tuple(vertex.co) for vertex in outline.data.vertices} <= places
    assert outline.parent == panel


def test_a_sound_panel_is_left_unmarked_and_that_is_said(empty: bpy.types.Scene) -> None:
    set_out(crowned("Sound", 0.0), None)
    assert "mark the damage by hand" in refused(OPS.suggest_damage)
    assert "Damage" not in bpy.data.objects["Sound"].vertex_groups


def test_paint_is_not_lined_up_away(empty: bpy.types.Scene) -> None:
    """A bare panel 0.3 mm under a painted shape stays 0.3 mm under it."""
    panel, target = crowned("Wing", 0.0), crowned("Shape", 0.0, 0.0)
    panel.location.z = -0.3
    bpy.context.view_layer.update()
    set_out(panel, target)
    own().painted, own().paint_mm = "PAINTED", 0.3
    assert OPS.line_up() == {"FINISHED"}
    assert abs(panel.matrix_world.translation.z + 0.3) < 0.03


def test_rims_locate_where_they_are_asked_to(empty: bpy.types.Scene) -> None:
    panel, target = crowned("Wing"), crowned("Shape", 0.0, 0.0)
    set_out(panel, target)
    own().shaping.by_rims = True
    assert OPS.line_up() == {"FINISHED"}
    record = json.loads(own().shaping.line_up)
    assert record["located_by"]["rim_mm"] > 0 or any("rim" in text for text in record["warnings"])
