"""A triangle mesh in millimetres, checked once at the door and trusted inside."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from ..threads import each

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]


def cross(a: Floats, b: Floats) -> Floats:
    """Cross products of the rows of ``a`` and ``b``, (n, 3); three times faster than numpy's.

    >>> cross(np.array([[1.0, 0, 0]]), np.array([[0, 1.0, 0]]))
    array([[0., 0., 1.]])
    """
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    for k, (i, j) in enumerate(((1, 2), (2, 0), (0, 1))):
        np.subtract(a[:, i] * b[:, j], a[:, j] * b[:, i], out=out[:, k])
    return out


def dot(a: Floats, b: Floats) -> Floats:
    """Dot products of the rows of ``a`` and ``b``, (n,)."""
    product: Floats = np.einsum("ij,ij->i", a, b)
    return product


_BLOCK = 1 << 15  # rows at a time: what is worked out between stays in the processor's cache


def blocks(count: int, rows: int = _BLOCK) -> Iterator[slice]:
    """Slices that cover rows 0 to ``count``, so many ``rows`` at a time; a cache's worth where nothing is said.

    >>> [(rows.start, rows.stop) for rows in blocks(40_000)]
    [(0, 32768), (32768, 40000)]
    >>> list(blocks(0))
    []
    """
    return (slice(start, min(start + rows, count)) for start in range(0, count, rows))


def normalised(v: Floats) -> Floats:
    """Rows of ``v`` scaled to length 1; a row of zeros stays zero.

    >>> normalised(np.array([[3.0, 0, 4.0], [0, 0, 0]]))
    array([[0.6, 0. , 0.8],
           [0. , 0. , 0. ]])
    """
    length = np.sqrt(dot(v, v))
    scaled: Floats = v / np.where(length > 0, length, 1.0)[:, None]
    return scaled


@dataclass(frozen=True)
class Surface:
    """Vertices (n, 3) in mm, relative to ``origin``, and triangles (m, 3), counter-clockwise from outside.

    ``row_of_input`` (k,) gives, for each vertex that came, its row here, or -1 where it was dropped.
    Everything else follows from these and is worked out once, when first asked for.
    """

    vertices: Floats
    triangles: Ints
    origin: Floats = field(default_factory=lambda: np.zeros(3))
    row_of_input: Ints | None = None

    @property
    def corners(self) -> tuple[Floats, Floats, Floats]:
        """The triangles' first, second and third corners, each (m, 3) mm; gathered anew each time, to save memory."""
        return self._corners_of(slice(None))

    def _corners_of(self, rows: slice) -> tuple[Floats, Floats, Floats]:
        a, b, c = (np.take(self.vertices, self.triangles[rows, k], axis=0) for k in range(3))
        return a, b, c

    @cached_property
    def _measures(self) -> tuple[Floats, Floats, float]:
        """Area vectors (m, 3) mm2, longest sides (m,) mm and the mean side, mm, from one pass over the corners."""
        vectors, longest = np.empty((len(self.triangles), 3)), np.empty(len(self.triangles))

        def measure(rows: slice) -> float:
            a, b, c = self._corners_of(rows)
            sides = b - a, c - b, a - c
            lengths = [np.sqrt(dot(side, side)) for side in sides]
            vectors[rows] = 0.5 * cross(sides[2], sides[0])
            longest[rows] = np.maximum(np.maximum(*lengths[:2]), lengths[2])
            return sum(float(length.sum()) for length in lengths)

        total = sum(each(measure, blocks(len(self.triangles))))
        return vectors, longest, total / max(3 * len(longest), 1)

    @property
    def area_vectors(self) -> Floats:
        """Normal of each triangle times its area, (m, 3) mm2."""
        return self._measures[0]

    @property
    def longest_sides(self) -> Floats:
        """Length of each triangle's longest side, (m,) mm."""
        return self._measures[1]

    @cached_property
    def areas(self) -> Floats:
        """Area of each triangle, (m,) mm2."""
        return np.sqrt(dot(self.area_vectors, self.area_vectors))

    @cached_property
    def normals(self) -> Floats:
        """Unit normal of each triangle, (m, 3); zero where the triangle has no area."""
        normals: Floats = self.area_vectors / np.where(self.areas > 0, self.areas, 1.0)[:, None]
        return normals

    @cached_property
    def corner_matrix(self) -> sparse.csr_matrix:
        """1 where a vertex (row) is a corner of a triangle (column), (n, m)."""
        m = len(self.triangles)
        starts = np.arange(0, 3 * m + 1, 3)
        by_triangle = sparse.csr_matrix(
            (np.ones(3 * m), self.triangles.ravel(), starts), shape=(m, len(self.vertices))
        )
        return by_triangle.T.tocsr()

    @cached_property
    def vertex_areas(self) -> Floats:
        """A third of the triangles around each vertex, (n,) mm2; sums to the surface's area."""
        thirds = np.repeat(self.areas / 3.0, 3)
        return np.bincount(self.triangles.ravel(), thirds, minlength=len(self.vertices)).astype(np.float64)

    @cached_property
    def vertex_normals(self) -> Floats:
        """Unit normal at each vertex, weighted by area, (n, 3)."""
        corner = self.triangles.ravel()
        columns = [np.bincount(corner, np.repeat(self.area_vectors[:, k], 3), len(self.vertices)) for k in range(3)]
        return normalised(np.stack(columns, axis=1).astype(np.float64))

    @cached_property
    def half_edges(self) -> sparse.csr_matrix:
        """How often each directed edge (from row to column) occurs in a triangle, (n, n)."""
        start, end = self.triangles, np.roll(self.triangles, -1, axis=1)
        n = len(self.vertices)
        ones = np.ones(start.size, dtype=np.int16)
        return sparse.csr_matrix((ones, (start.ravel(), end.ravel())), shape=(n, n))

    @cached_property
    def edge_counts(self) -> sparse.csr_matrix:
        """How many triangles share each edge, (n, n), symmetric; the pattern is each vertex's neighbours."""
        return (self.half_edges + self.half_edges.T.tocsr()).tocsr()

    @cached_property
    def on_rim(self) -> Mask:
        """True for each vertex at an end of an edge that only one triangle has, (n,)."""
        counts = self.edge_counts
        rim = np.zeros(len(self.vertices), dtype=bool)
        rim[counts.indices[counts.data == 1]] = True  # symmetric: every rim vertex is a column too
        return rim

    @property
    def mean_edge(self) -> float:
        """Mean length of the triangles' sides, mm."""
        return self._measures[2]

    @property
    def area(self) -> float:
        """Area of the whole surface, mm2."""
        return float(self.areas.sum())

    @property
    def diagonal(self) -> float:
        """Diagonal of the box around the surface, mm."""
        low, high = self.box
        return float(np.linalg.norm(high - low))

    @cached_property
    def box(self) -> tuple[Floats, Floats]:
        """Lowest and highest corner of the box around the vertices, each (3,) mm."""
        columns = [self.vertices[:, k] for k in range(3)]  # column by column: ten times faster than axis=0
        return np.array([c.min() for c in columns]), np.array([c.max() for c in columns])

    def forget(self, *names: str) -> None:
        """Free what was worked out under these ``names``; whoever asks again has it worked out anew.

        >>> square = Surface(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]]))
        >>> before = square.half_edges
        >>> square.forget("half_edges", "areas")
        >>> before is square.half_edges, "areas" in square.__dict__
        (False, False)
        """
        for name in names:
            self.__dict__.pop(name, None)

    def about(self, origin: Floats) -> Surface:
        """The same surface, in the same place, with coordinates counted from ``origin``."""
        return replace(self, vertices=self.vertices + (self.origin - origin), origin=np.asarray(origin))

    def part(self, keep: Mask) -> Surface:
        """The triangles where ``keep`` (m,) is True, and only the vertices that they use."""
        used = np.zeros(len(self.vertices), dtype=bool)
        used[self.triangles[keep]] = True
        row = np.where(used, np.cumsum(used) - 1, -1)
        came = row if self.row_of_input is None else np.where(
            self.row_of_input >= 0, row[self.row_of_input], -1
        )
        return Surface(self.vertices[used], row[self.triangles[keep]], self.origin, came)

    def turned(self, flip: Mask) -> Surface:
        """The same surface with the triangles where ``flip`` (m,) is True turned over."""
        triangles = self.triangles.copy()
        triangles[flip] = triangles[flip][:, ::-1]
        return replace(self, triangles=triangles)
