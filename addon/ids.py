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
CHALK = "Chalk"
MAP = "Map"

# Operators
PLAN = "fillwright.plan"
LOAD_SAMPLE = "fillwright.load_sample"
SET_SIZE = "fillwright.set_size"
WORK_AREA_FROM_SELECTION = "fillwright.work_area_from_selection"
FILL_MAP = "fillwright.fill_map"
CHALK_IT = "fillwright.chalk_it"
READ_DEPTH = "fillwright.read_depth"
MAKE_FILL = "fillwright.make_fill_mesh"
PICTURE = "fillwright.picture"
GO_TO_AREA = "fillwright.go_to_area"
APPLY = "fillwright.apply_result"
