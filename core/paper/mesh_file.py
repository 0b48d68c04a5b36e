"""Meshes as the bytes of a file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import trimesh
from numpy.typing import NDArray
from trimesh.exchange.ply import export_ply
from trimesh.exchange.stl import export_stl

from ..surface.surface import Surface


def as_trimesh(surface: Surface) -> trimesh.Trimesh:
    """The surface for trimesh's writers, in its own file's frame, in mm."""
    return trimesh.Trimesh(surface.vertices + surface.origin, surface.triangles, process=False, validate=False)


def mesh_bytes(surface: Surface, suffix: str, values: Mapping[str, NDArray[Any]] | None = None) -> bytes:
    """The surface as a binary ``.ply`` (with ``values`` (n,) by name at its vertices) or ``.stl``, in mm."""
    mesh = as_trimesh(surface)
    for name, value in (values or {}).items():
        mesh.vertex_attributes[name] = value
    data: bytes = export_stl(mesh) if suffix == ".stl" else export_ply(mesh, vertex_normal=False)
    return data
