"""Every name that Blender shows or stores, in one place and without Blender."""

from __future__ import annotations

CATEGORY = "Fillwright"

# Kept in the user's file: never rename without carrying old files over.
DEPTH = "fillwright_depth_mm"
AREA = "fillwright_area"
COLOUR = "fillwright_map"
PLANNED = "fillwright_plan"  # on the mesh that holds them: which plan's they are
SIDES = "fillwright_sides_apart_mm"
SIDES_COLOUR = "fillwright_sides_map"
FILLER = "fillwright_old_filler_mm"
FILLER_COLOUR = "fillwright_filler_map"
HELD = "fillwright_line_up_mm"
HELD_COLOUR = "fillwright_line_up_map"
COLOURS = (COLOUR, SIDES_COLOUR, FILLER_COLOUR, HELD_COLOUR)
MADE = "made"  # on the vertices of a finished shape that Fillwright made: whether it was invented there
TRUST = "trust_mm"  # ... and how far it may be off
WORK_AREA = "Work Area"  # vertex group
DAMAGE = "Damage"  # vertex group
ASIDE = "Set Aside"  # vertex group
COLLECTION = "Fillwright"
FILL = "Fill"
CONTOURS = "Contours"
CONTOURS_PALE = "Contours Pale"
HATCH = "Hatch"
DOTS = "Dots"
DOTS_FAR = "Dots from Far"
CHALK = "Chalk"
CHALK_NOTES = "Chalk Notes"
SMUDGE = "Chalk Smudge"
SMUDGE_NOTES = "Chalk Notes Smudge"
MAP = "Map"
RESULT = "fillwright_result"  # mark on the objects that Fillwright makes: as what, or only that it did
PLANE = "Symmetry Plane"
LINES = "Lines Carried Through"
NUMBERS = "Places Carried Through"
SHAPE = "fillwright_shape"  # on a finished shape that Fillwright made: what is known about it
MADE_UP = ("carry_through", "good_side", "as_was")  # kinds of shape that are never as exact as one that was designed
SHAPE_MADE = "fillwright_made"  # and its mesh as it was made
SHAPE_FROM = "fillwright_from"  # and the shape that it was made from

# Operators
PLAN = "fillwright.plan"
LOAD_SAMPLE = "fillwright.load_sample"
IMPORT_MESH = "fillwright.import_mesh"
TAKE_SELECTED = "fillwright.take_selected"
SET_SIZE = "fillwright.set_size"
SIZE_FROM_TAPE = "fillwright.size_from_tape"
WORK_AREA_FROM_SELECTION = "fillwright.work_area_from_selection"
WORK_AREA_LASSO = "fillwright.work_area_lasso"
WORK_AREA_PAINT = "fillwright.work_area_paint"
FILL_MAP = "fillwright.fill_map"
SHOW_MAP = "fillwright.show_map"
CHALK_IT = "fillwright.chalk_it"
READ_DEPTH = "fillwright.read_depth"
MAKE_FILL = "fillwright.make_fill_mesh"
PICTURE = "fillwright.picture"
GO_TO_AREA = "fillwright.go_to_area"
GOOD_SIDE = "fillwright.from_the_good_side"
CARRY_THROUGH = "fillwright.carry_through"
TEST_SCANNER = "fillwright.test_scanner"
SUGGEST_DAMAGE = "fillwright.suggest_damage"
AS_IT_WAS = "fillwright.as_it_was"
METAL_LEVEL = "fillwright.metal_level"
BUILD_OVER = "fillwright.build_over"
SHOW_SHAPE = "fillwright.show_shape"
PLANE_FROM_POINTS = "fillwright.plane_from_points"
LINE_UP = "fillwright.line_up"
LANDMARKS = "fillwright.click_matching_points"
CLEAR_LANDMARKS = "fillwright.clear_matching_points"
WEIGH_UP = "fillwright.weigh_up"
ADD_TO_WEIGH_UP = "fillwright.add_to_weigh_up"
TAKE_FROM_WEIGH_UP = "fillwright.take_from_weigh_up"
LOAD_BONNET = "fillwright.load_bonnet"
APPLY = "fillwright.apply_result"

# What the menu in the header holds, by groups: search (F3) finds only what some menu holds.
MENU: tuple[tuple[str, ...], ...] = (
    (IMPORT_MESH, TAKE_SELECTED, LOAD_SAMPLE, LOAD_BONNET, SET_SIZE, TEST_SCANNER),
    (WORK_AREA_LASSO, WORK_AREA_PAINT, WORK_AREA_FROM_SELECTION),
    (GOOD_SIDE, PLANE_FROM_POINTS, SUGGEST_DAMAGE, CARRY_THROUGH, AS_IT_WAS, METAL_LEVEL,
     BUILD_OVER, SHOW_SHAPE),
    (LINE_UP, LANDMARKS, CLEAR_LANDMARKS),
    (ADD_TO_WEIGH_UP, TAKE_FROM_WEIGH_UP, WEIGH_UP),
    (PLAN, GO_TO_AREA),
    (FILL_MAP, SHOW_MAP, READ_DEPTH, CHALK_IT, MAKE_FILL, PICTURE),
)
# Where a button's own words don't tell what it is for.
MENU_LABELS = {
    TAKE_SELECTED: "Panel: Take the Selected Mesh",
    WORK_AREA_LASSO: "Work Area: Lasso",
    WORK_AREA_PAINT: "Work Area: Paint",
    WORK_AREA_FROM_SELECTION: "Work Area: From Selection",
    GOOD_SIDE: "Shape: Mirror the Good Side",
    PLANE_FROM_POINTS: "Symmetry Plane: From 3 Points",
    CARRY_THROUGH: "Shape: Carry Through the Damage",
    AS_IT_WAS: "Shape: As It Was, Paint Taken Off",
    METAL_LEVEL: "Shape: Metal Level, Set In by the Filler",
    BUILD_OVER: "Shape: Build Over, Moved Out",
    SUGGEST_DAMAGE: "Carry Through: Find the Damage",
    ADD_TO_WEIGH_UP: "Weigh Up: Add Shapes",
    TAKE_FROM_WEIGH_UP: "Weigh Up: Take from the List",
}
