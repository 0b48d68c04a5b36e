"""The fill as closed shells, one for each low: between the panel and the finished shape."""

from __future__ import annotations

import numpy as np

from ..depth.sheets import Sheets
from ..surface.border import border
from ..surface.surface import Floats, Ints, Mask, Surface, dot

_MEET_MM = 2e-4  # below what an STL file's numbers can tell apart on a panel


def fill_mesh(sheets: Sheets, inside: Mask) -> Surface:
    """A closed shell around the fill of the pairs of triangles where ``inside`` (t,) is True, finished size, mm.

    Its signed volume is the sum of those pairs' fill less cut. Where the fill runs out to nothing the two sheets
    share their points. Where noise brings the panel through the finished shape the shell crosses itself by as
    much. Nothing inside gives an empty surface.
    """
    n = len(sheets.panel)
    gap = sheets.feet - sheets.panel
    meet: Mask = dot(gap, gap) < _MEET_MM**2
    foot: Ints = np.where(meet, 0, n) + np.arange(n)
    triangles = sheets.triangles[inside]
    triangles = triangles[~meet[triangles].all(axis=1)]
    start, end, _ = border(triangles)
    wall = ~(meet[start] & meet[end])
    start, end = start[wall], end[wall]
    centre = np.arange(len(start)) + 2 * n
    middle = (sheets.panel[start] + sheets.panel[end] + sheets.feet[start] + sheets.feet[end]) / 4
    # The wall's four corners in turn, and its middle: so it has the volume of a ruled side exactly.
    turn = (foot[end], foot[start], start, end)
    walls = np.concatenate([np.stack([turn[k], turn[(k + 1) % 4], centre], axis=1) for k in range(4)])
    points: Floats = np.concatenate([sheets.panel, sheets.feet, middle])
    faces: Ints = np.concatenate([foot[triangles], triangles[:, ::-1], walls[walls[:, 0] != walls[:, 1]]])
    return Surface(points, faces).part(np.ones(len(faces), dtype=bool))
