"""Every name that Blender shows or stores, in one place and without Blender."""

from __future__ import annotations

CATEGORY = "Fillwright"

# Kept in the user's file: never rename without carrying old files over.
DEPTH = "fillwright_depth_mm"
AREA = "fillwright_area"
COLOUR = "fillwright_map"
WORK_AREA = "Work Area"  # vertex group
COLLECTION = "Fillwright"
FILL = "Fill"
CONTOURS = "Contours"
CONTOURS_PALE = "Contours Pale"
HATCH = "Hatch"
DOTS = "Dots"
CHALK = "Chalk"
CHALK_NOTES = "Chalk Notes"
SMUDGE = "Chalk Smudge"
SMUDGE_NOTES = "Chalk Notes Smudge"
MAP = "Map"
RESULT = "fillwright_result"  # mark on the objects that Fillwright makes

# Operators
PLAN = "fillwright.plan"
LOAD_SAMPLE = "fillwright.load_sample"
SET_SIZE = "fillwright.set_size"
SIZE_FROM_TAPE = "fillwright.size_from_tape"
WORK_AREA_FROM_SELECTION = "fillwright.work_area_from_selection"
WORK_AREA_LASSO = "fillwright.work_area_lasso"
WORK_AREA_PAINT = "fillwright.work_area_paint"
FILL_MAP = "fillwright.fill_map"
CHALK_IT = "fillwright.chalk_it"
READ_DEPTH = "fillwright.read_depth"
MAKE_FILL = "fillwright.make_fill_mesh"
PICTURE = "fillwright.picture"
GO_TO_AREA = "fillwright.go_to_area"
APPLY = "fillwright.apply_result"
