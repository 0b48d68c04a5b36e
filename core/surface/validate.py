"""The door: arrays of any kind come in as a checked surface, or one sentence says why not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from .surface import Ints, Surface


def validate(vertices: object, triangles: object, name: str) -> Surface:
    """A surface from arrays of any real type, or one sentence that says why not.

    ``vertices`` (n, 3) in mm, ``triangles`` (m, 3) row numbers; ``name`` starts the sentence.

    >>> validate([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]], "panel").area
    0.5
    >>> validate([[0, 0, 0]], [], "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel: it has points but no triangles; export the scan as a mesh, not as a point cloud
    """
    v, t = np.asarray(vertices), np.asarray(triangles)
    if v.size == 0:
        raise InputError(f"{name}: it holds no points; export the mesh again")
    if t.size == 0:
        raise InputError(
            f"{name}: it has points but no triangles; export the scan as a mesh, not as a point cloud"
        )
    if v.ndim != 2 or v.shape[1] != 3 or v.dtype.kind not in "fiu":
        raise InputError(f"{name}: points came as {v.shape} of {v.dtype}; (n, 3) real numbers are wanted")
    if t.ndim != 2 or t.shape[1] != 3 or t.dtype.kind not in "iu":
        raise InputError(f"{name}: triangles came as {t.shape} of {t.dtype}; (m, 3) row numbers are wanted")
    _check_finite(v, name)
    _check_rows(v, t, name)
    return Surface(np.ascontiguousarray(v, dtype=np.float64), np.ascontiguousarray(t, dtype=np.int64))


def _check_finite(v: NDArray[np.generic], name: str) -> None:
    if np.isfinite(v).all():
        return
    bad = ~np.isfinite(v.astype(np.float64, copy=False)).all(axis=1)
    raise InputError(
        f"{name}: {_spaced(int(bad.sum()))} of {_spaced(len(v))} points are not finite "
        f"(first: row {int(bad.argmax())}); clean the scan first"
    )


def _check_rows(v: NDArray[np.generic], t: Ints, name: str) -> None:
    if t.min() < 0 or t.max() >= len(v):
        bad = ((t < 0) | (t >= len(v))).any(axis=1)
        raise InputError(
            f"{name}: {_spaced(int(bad.sum()))} triangles name points that are not there "
            f"(first: triangle {int(bad.argmax())}; there are {_spaced(len(v))} points); export the mesh again"
        )


def _spaced(count: int) -> str:
    return f"{count:,}".replace(",", " ")
