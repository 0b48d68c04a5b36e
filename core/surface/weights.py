"""Barycentric weights of points in triangles, and what they blend."""

from __future__ import annotations

import numpy as np

from .surface import Floats, Ints, Surface, dot, normalised


def barycentric(points: Floats, triangle: Ints, surface: Surface) -> Floats:
    """Weights (n, 3) of the corners of each ``triangle`` (n,) that make ``points`` (n, 3) mm in it; they sum to 1.

    >>> corner = Surface(np.array([[0.0, 0, 0], [4, 0, 0], [0, 4, 0]]), np.array([[0, 1, 2]]))
    >>> barycentric(np.array([[1.0, 2, 0]]), np.array([0]), corner)
    array([[0.25, 0.25, 0.5 ]])
    """
    a, b, c = (surface.vertices[surface.triangles[triangle, k]] for k in range(3))
    u, v, w = b - a, c - a, points - a
    uu, uv, vv, wu, wv = dot(u, u), dot(u, v), dot(v, v), dot(w, u), dot(w, v)
    scale = np.maximum(uu * vv - uv * uv, 1e-300)
    second, third = (vv * wu - uv * wv) / scale, (uu * wv - uv * wu) / scale
    weights: Floats = np.stack([1 - second - third, second, third], axis=1)
    return weights


def blended_normals(points: Floats, triangle: Ints, surface: Surface) -> Floats:
    """Unit normals (n, 3) blended between the corners of each ``triangle`` (n,) at ``points`` (n, 3) mm in it."""
    weights = barycentric(points, triangle, surface)
    return normalised(np.einsum("nk,nkj->nj", weights, surface.vertex_normals[surface.triangles[triangle]]))
