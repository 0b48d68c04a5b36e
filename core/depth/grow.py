"""Areas grown outward from their seeds, ring by ring, while a ring still shows the area's sign.

The mean of a ring's signed depth is compared with its own uncertainty: noise averages out along the
ring, so the edge of a dent is followed far below the noise of a single point. A ring must clear twice
its uncertainty, and a hem of fixed width is added at the end: to go on at every ring that happens to
lean the right way would gather noise of one sign (it added 1 % to a 17 cm3 dent), and the hem takes
in the tail that the stricter rule leaves out, whichever way its noise leans.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse

from ..statistics.noise import Noise
from ..surface.surface import Floats, Ints, Mask, Surface
from .placing import Placing
from .shape_trust import ShapeDoubt

# Narrower rings would be less certain than they need be; wider ones would overshoot the edge.
_RING_MM = 2.0
_CLEAR = 2.0
_HEM_MM = 8.0


@dataclass(frozen=True)
class Field:
    """What growing looks at: ``depth_mm`` (n,) with 0 where not ``judged`` (n,), its noise, and the offset
    (mm) that a whole ring may share by line-up and calibration; ``placing``, where it is known, tells that
    better; ``doubt``: of a shape that was made here."""

    depth_mm: Floats
    judged: Mask
    noise: Noise
    offset_mm: float
    placing: Placing | None = None
    doubt: ShapeDoubt | None = None


def grown(panel: Surface, label: Ints, sign: Floats, field: Field) -> tuple[Ints, Ints]:
    """Labels (n,) with each area grown, without and with its hem; ``label`` (n,) holds 1..k on the seeds, 0 elsewhere.

    The first is the area that people work on, the second is where its volume is summed.
    ``sign`` (k + 1,): +1 for a low, -1 for a high. An area never grows into another.
    """
    label = label.copy()
    pattern = panel.edge_counts
    hop = 0.87 * panel.mean_edge  # from one row of near-equilateral triangles to the next
    hops = max(1, round(_RING_MM / hop))
    width = hops * hop
    front = np.flatnonzero(label)
    while len(front):
        ring, owner = _ring(pattern, front, label, field.judged, hops)
        area = np.bincount(owner, panel.vertex_areas[ring], minlength=len(sign))
        total = np.bincount(owner, (panel.vertex_areas * field.depth_mm)[ring], minlength=len(sign))
        present = area > 0
        mean = np.where(present, sign * total / np.where(present, area, 1.0), 0.0)
        doubt = np.hypot(field.noise.of_strip(np.maximum(area, 1e-9) / width, width), field.offset_mm)
        if field.doubt is not None:  # all around a ring a shape is off together
            shape = np.bincount(owner, (panel.vertex_areas * field.doubt.doubt_mm)[ring], minlength=len(sign))
            doubt = np.hypot(doubt, shape / np.where(present, area, 1.0))
        goes_on = present & (mean > _CLEAR * doubt)
        label[ring[~goes_on[owner]]] = 0
        front = ring[goes_on[owner]]
    hemmed = label.copy()
    _ring(pattern, np.flatnonzero(label), hemmed, field.judged, max(1, round(_HEM_MM / hop)))
    return label, hemmed


def _ring(pattern: sparse.csr_matrix, front: Ints, label: Ints, judged: Mask, hops: int) -> tuple[Ints, Ints]:
    """The next ring: free judged vertices within ``hops`` edges of ``front``, labelled at once, and their labels."""
    rings = []
    for _ in range(hops):
        source, target = _neighbours(pattern, front)
        free = (label[target] == 0) & judged[target]
        label[target[free]] = label[source[free]]
        front = np.unique(target[free])
        rings.append(front)
    ring = np.concatenate(rings)
    return ring, label[ring]


def _neighbours(pattern: sparse.csr_matrix, vertices: Ints) -> tuple[Ints, Ints]:
    """Each pair (vertex of ``vertices``, its neighbour)."""
    starts = pattern.indptr.astype(np.int64)
    counts = starts[vertices + 1] - starts[vertices]
    step = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    source = np.repeat(vertices, counts)
    return source, pattern.indices[starts[source] + step].astype(np.int64)
