"""A drawing's shapes as Blender's own data, y up."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Vector
from mathutils.geometry import delaunay_2d_cdt

from ...core.legend.drawing import Line, Polygon, Text
from ...core.picture.winding import wound

_LATIN_ENDS = 0x250  # first letter after the Latin blocks of Unicode


def face_of(shape: Polygon) -> bpy.types.Mesh:
    """A filled area."""
    mesh = bpy.data.meshes.new("Area")
    mesh.from_pydata([(x, -y, 0.0) for x, y in shape.points.tolist()], [], [list(range(len(shape.points)))])
    return mesh


def stroke_of(shape: Line) -> bpy.types.Curve:
    """A line as wide as drawn."""
    curve = bpy.data.curves.new("Line", "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", shape.width / 2, 2
    spline = curve.splines.new("POLY")
    spline.points.add(len(shape.points) - 1)
    for point, (x, y) in zip(spline.points, shape.points.tolist(), strict=True):
        point.co = (x, -y, 0.0, 1.0)
    return curve


def text_of(shape: Text) -> bpy.types.Curve | bpy.types.Mesh:
    """Letters as filled faces. Blender fills outlines that overlap with blots, as those of its Cyrillic letters do; so
    what is not Latin is filled here, which takes a hundred times as long."""
    curve = bpy.data.curves.new("Text", "FONT")
    curve.body, curve.size = shape.text, shape.size
    curve.align_x = {"start": "LEFT", "middle": "CENTER", "end": "RIGHT"}[shape.anchor]
    if all(ord(letter) < _LATIN_ENDS for letter in shape.text):
        return curve
    curve.fill_mode = "NONE"
    holder = bpy.data.objects.new("Text", curve)
    outline = bpy.data.meshes.new_from_object(holder)
    bpy.data.batch_remove([holder, curve])
    _fill(outline)
    return outline


def _fill(outline: bpy.types.Mesh) -> None:
    """Faces between the edges of ``outline``, wherever these run round."""
    points = np.array([vertex.co[:2] for vertex in outline.vertices]).reshape(-1, 2)
    edges = np.array([edge.vertices[:] for edge in outline.edges], dtype=np.int64).reshape(-1, 2)
    outline.clear_geometry()
    if not len(edges):
        return
    found, _, faces, *_ = delaunay_2d_cdt([Vector(point) for point in points.tolist()], edges.tolist(), [], 0, 1e-6)
    corners, faces = np.array(found), np.array(faces)
    inside = wound(corners[faces].mean(axis=1), points[edges[:, 0]], points[edges[:, 1]]) != 0
    outline.from_pydata([(x, y, 0.0) for x, y in corners.tolist()], [], faces[inside].tolist())
