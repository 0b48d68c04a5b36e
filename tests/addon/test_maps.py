"""The maps of the sides, the old filler and the line-up: core's values, shown in core's colours, and put away again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest

from core.legend.legend import colours
from core.map.map_keys import map_key
from tests.addon.conftest import part, refused
from tests.addon.plain_shapes import plain_shape
from tests.addon.scenes import everything
from tests.addon.shape_scenes import AT, DENT_MM, crowned, own, set_out

OPS = bpy.ops.fillwright
NAMES = {
    "good_side": ("fillwright_sides_apart_mm", "fillwright_sides_map"),
    "as_was": ("fillwright_old_filler_mm", "fillwright_filler_map"),
    "line_up": ("fillwright_line_up_mm", "fillwright_line_up_map"),
}
KINDS = list(NAMES)


@pytest.fixture
def panel(empty: bpy.types.Scene) -> bpy.types.Object:
    """The dented panel with its undamaged shape, which serves as the scan from before stripping, too."""
    obj, target = crowned("Wing"), crowned("Shape", 0.0, 0.0)
    set_out(obj, target)
    own().shaping.old, own().shaping.old_paint_mm = crowned("Before", 0.5, 0.0), 0.25
    return obj


def make(kind: str) -> None:
    """Have the map made."""
    operator = {"good_side": OPS.from_the_good_side, "as_was": OPS.as_it_was, "line_up": OPS.line_up}[kind]
    assert operator() == {"FINISHED"}


def values(obj: bpy.types.Object, name: str) -> np.ndarray:
    """An attribute's values, (k,) or (k, 4)."""
    attribute = obj.data.attributes[name]
    assert attribute.domain == "POINT"
    width = 4 if attribute.data_type == "FLOAT_COLOR" else 1
    found = np.empty(width * len(attribute.data), np.float32)
    attribute.data.foreach_get("color" if width == 4 else "value", found)
    return found.reshape(-1, 4) if width == 4 else found


def shown(kind: str) -> bool:
    return part("addon.map.maps").is_shown(own(), kind)


@pytest.mark.parametrize("kind", KINDS)
def test_values_and_colours_are_cores(kind: str, panel: bpy.types.Object, tmp_path: Path) -> None:
    roles = {"good_side": {"body": panel}, "as_was": {"old": own().shaping.old, "panel": panel},
             "line_up": {"panel": panel, "target": own().target}}[kind]
    figures, _ = plain_shape(kind, tmp_path, roles, landmarks=None, paint_mm=own().shaping.old_paint_mm)
    make(kind)
    name, colour = NAMES[kind]
    found = values(panel, name)
    np.testing.assert_array_equal(found, np.array(figures["map_mm"], dtype=np.float32))
    assert np.isfinite(found).mean() > 0.8
    linear = values(panel, colour)[:, :3].astype(float)
    # IEC 61966-2-1, from scene-linear to display.
    display = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055) * 255
    np.testing.assert_allclose(display, colours(found, map_key(kind, own().true_mm, "mm")), atol=0.02)


def test_the_dent_is_low_and_its_mirror_image_high(panel: bpy.types.Object) -> None:
    """Closed form: the crown is even in x, so at the dent the sides lie apart by its depth along the normal."""
    make("good_side")
    apart = values(panel, NAMES["good_side"][0])
    at = np.array([tuple(v.co)[:2] for v in panel.data.vertices])
    upright = 1 / np.hypot(1, 2 * AT[0] / 900 + 100 * AT[0] ** 3 / 150**4)  # cosine of the slope at the dent, along x
    for side, sign in ((1, 1), (-1, -1)):
        middle = np.hypot(at[:, 0] - side * AT[0], at[:, 1] - AT[1]).argmin()
        assert apart[middle] == pytest.approx(sign * DENT_MM * upright, abs=0.25)


def test_old_filler_is_as_thick_as_the_old_skin_was_over_the_metal(panel: bpy.types.Object) -> None:
    """In a dent of 3 mm, once filled to 0.5 mm and painted with 0.25 mm; the scene's own figures, along the normal."""
    make("as_was")
    filler = values(panel, NAMES["as_was"][0])
    at = np.array([tuple(v.co)[:2] for v in panel.data.vertices])
    upright = 1 / np.hypot(1, 2 * AT[0] / 900 + 100 * AT[0] ** 3 / 150**4)
    middle = np.hypot(at[:, 0] - AT[0], at[:, 1] - AT[1]).argmin()
    assert filler[middle] == pytest.approx((DENT_MM - 0.5) * upright - 0.25, abs=0.15)
    assert np.nanmedian(filler) == pytest.approx(-0.25, abs=0.02)


@pytest.mark.parametrize("kind", KINDS)
def test_one_button_shows_it_and_gives_everything_back(kind: str, panel: bpy.types.Object) -> None:
    panel.data.color_attributes.new("My Paint", "BYTE_COLOR", "CORNER")
    panel.data.attributes.active_color_name = "My Paint"
    make(kind)
    assert not own().show_map
    assert panel.data.attributes.active_color_name == "My Paint"
    before = everything(), [obj.hide_get() for obj in bpy.data.objects]
    assert OPS.show_map(kind=kind) == {"FINISHED"}
    assert shown(kind)
    assert panel.data.attributes.active_color_name == NAMES[kind][1]
    assert panel.visible_get()
    assert own().shaping.old.hide_get()  # it lies over the panel
    assert not own().target.visible_get()
    assert OPS.show_map(kind=kind) == {"FINISHED"}
    assert (everything(), [obj.hide_get() for obj in bpy.data.objects]) == before
    assert panel.data.attributes.active_color_name == "My Paint"
    OPS.show_map(kind=kind)
    make(kind)  # again, while it is shown
    assert shown(kind)
    assert panel.data.attributes.active_color_name == NAMES[kind][1]
    OPS.show_map(kind=kind)
    assert panel.data.attributes.active_color_name == "My Paint"


def test_one_map_at_a_time(panel: bpy.types.Object) -> None:
    make("line_up")
    assert OPS.plan() == {"FINISHED"}
    assert shown("fill")
    assert OPS.show_map(kind="line_up") == {"FINISHED"}
    assert shown("line_up")
    assert not shown("fill")
    assert bpy.data.objects["Contours"].hide_viewport
    assert OPS.fill_map() == {"FINISHED"}
    assert shown("fill")
    assert not bpy.data.objects["Contours"].hide_viewport
    assert panel.data.attributes.active_color_name == "fillwright_map"
    assert OPS.show_map(kind="line_up") == {"FINISHED"}
    assert OPS.plan() == {"FINISHED"}  # its map comes up by itself, whatever was shown
    assert shown("fill")
    assert OPS.fill_map() == {"FINISHED"}
    assert not own().show_map
    assert not own().target.hide_get()


def test_undo_and_redo(panel: bpy.types.Object) -> None:
    make("good_side")
    bpy.ops.ed.undo_push(message="made")
    OPS.show_map("EXEC_DEFAULT", True, kind="good_side")
    bpy.ops.ed.undo()
    assert not own().show_map
    assert not own().shaping.old.hide_get()
    bpy.ops.ed.redo()
    assert shown("good_side")
    assert own().panel.data.attributes.active_color_name == NAMES["good_side"][1]
    bpy.ops.ed.undo()
    assert OPS.show_map(kind="good_side") == {"FINISHED"}
    assert shown("good_side")


def test_saved_and_loaded(panel: bpy.types.Object, tmp_path: Path) -> None:
    make("line_up")
    OPS.show_map(kind="line_up")
    wanted, drawing = values(panel, NAMES["line_up"][0]), legend_now()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "mäp.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "mäp.blend"))
    assert shown("line_up")
    np.testing.assert_array_equal(values(own().panel, NAMES["line_up"][0]), wanted)
    assert legend_now() == drawing
    OPS.show_map(kind="line_up")
    assert not own().show_map
    assert not own().shaping.old.hide_get()


def legend_now() -> list[str]:
    """The words of the legend that the view would draw."""
    drawing = part("addon.map.map_legend").drawing_of(bpy.context.scene, (1600.0, 900.0), 1.0)
    return [shape.text for shape in drawing.shapes if hasattr(shape, "text")]


def test_the_legend_is_that_of_the_map(panel: bpy.types.Object) -> None:
    titles = {"good_side": "Sides Apart", "as_was": "Old Filler", "line_up": "Line-Up Uncertainty"}
    numbers: dict[str, Any] = {}
    for kind, title in titles.items():
        make(kind)
        OPS.show_map(kind=kind)
        said = legend_now()
        assert title in said
        numbers[kind] = {word for word in said if word[0].isdigit()}
    assert numbers["good_side"] == numbers["as_was"] == {"0.25", "0.5", "1", "2", "5", "10"}
    assert numbers["line_up"] == {"0.002", "0.005", "0.01", "0.02", "0.05", "0.1"}
    OPS.plan()
    assert "Below the line: fill" in legend_now()


def test_the_plans_chalk_lies_over_no_other_map(panel: bpy.types.Object) -> None:
    """And is there again with the plan's own map, or with none, unless it was wiped off."""
    make("line_up")
    OPS.plan()
    chalk = bpy.data.objects["Chalk"]
    assert chalk.visible_get()
    OPS.show_map(kind="line_up")
    assert not chalk.visible_get()
    OPS.show_map(kind="line_up")
    assert chalk.visible_get()
    OPS.chalk_it()
    OPS.fill_map()
    assert not chalk.visible_get()


def test_other_objects_keep_a_grey_of_their_own_and_get_their_colour_back(panel: bpy.types.Object) -> None:
    """Blender draws what has no colours to show in its own colour, which is white; an own choice is kept meanwhile."""
    cube, chosen = (bpy.data.objects.new(name, bpy.data.meshes.new(name)) for name in ("Cube", "Chosen"))
    for obj in (cube, chosen):
        bpy.context.scene.collection.objects.link(obj)
    chosen.color = (0.1, 0.2, 0.3, 0.4)
    before = [tuple(obj.color) for obj in (cube, chosen)]
    make("line_up")
    OPS.show_map(kind="line_up")
    assert max(cube.color[:3]) < 0.6
    assert cube.color[0] == cube.color[1] == cube.color[2] > 0.2
    OPS.show_map(kind="line_up")
    assert [tuple(obj.color) for obj in (cube, chosen)] == before
    OPS.show_map(kind="line_up")
    chosen.color = (1.0, 0.0, 0.0, 1.0)  # while the map is on
    OPS.show_map(kind="line_up")
    assert tuple(chosen.color) == (1.0, 0.0, 0.0, 1.0)


def test_steps_stay_those_that_the_map_was_made_with(panel: bpy.types.Object) -> None:
    own().true_mm = 0.4
    make("good_side")
    OPS.show_map(kind="good_side")
    own().true_mm = 0.25
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    assert "0.4" in legend_now()
    assert "0.25" not in legend_now()


def test_a_mesh_that_cant_hold_it_has_a_map_object_in_its_place(panel: bpy.types.Object) -> None:
    twin = bpy.data.objects.new("Twin", panel.data)
    bpy.context.scene.collection.objects.link(twin)
    panel.location = (300.0, -200.0, 40.0)
    bpy.context.view_layer.update()
    make("line_up")
    made = bpy.data.objects["Line-Up Uncertainty Map Wing"]
    assert made.hide_viewport
    assert NAMES["line_up"][0] not in panel.data.attributes
    OPS.show_map(kind="line_up")
    assert not made.hide_viewport
    assert panel.hide_get()
    bpy.context.view_layer.update()
    np.testing.assert_allclose(np.array(made.matrix_world), np.array(panel.matrix_world), atol=1e-5)
    OPS.show_map(kind="line_up")
    assert made.hide_viewport
    assert not panel.hide_get()


def test_misuse_is_told_in_one_sentence(panel: bpy.types.Object) -> None:
    assert refused(OPS.show_map).endswith("Mirror the good side, take the paint off, or line up first")
    make("good_side")
    assert "no old filler map yet" in refused(OPS.show_map, kind="as_was")
    bpy.context.view_layer.objects.active = panel
    bpy.ops.object.mode_set(mode="EDIT")
    assert refused(OPS.show_map, kind="good_side") == "Leave edit mode first"
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.data.objects.remove(panel)
    assert not OPS.show_map.poll()
