"""The ways to a finished shape that need no fitting of their own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.depth import Depth, measure_depth
from ..depth.sheets import between
from ..depth.survey import Rules, survey
from ..depth.volume import volumes
from ..errors import NoOverlapError
from ..progress import Progress, silent
from ..surface.nearest import Tree
from ..surface.surface import Floats, Mask, Surface
from .carry_through import Carried, carry_through
from .set_off import cramped_mm2, set_off

_CRAMPED_MM2 = 10.0  # less is a corner's own line


@dataclass(frozen=True, eq=False)
class AsItWas:
    """A shape from an old scan: ``surface``, bare; ``carried`` where its bad spots were carried through, or None;
    ``filler_mm`` (n,): thickness that lay on each vertex of the stripped panel, nan where not judged."""

    surface: Surface
    carried: Carried | None
    filler_mm: Floats

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is to be minded where bad spots were carried through."""
        return () if self.carried is None else self.carried.warnings


def as_it_was(old: Surface, stripped: Surface, paint_mm: float, bad: Mask | None, reach_mm: float = 20.0) -> AsItWas:
    """As It Was: the panel scanned before it was stripped, ``bad`` spots (n,) carried through, ``paint_mm`` taken off.

    ``stripped``: the bare panel, lined up with it: the old skin less the bare metal less the paint is the old fill.
    """
    carried = carry_through(old, bad) if bad is not None and bad.any() else None
    kept = old if carried is None else carried.surface
    depth = measure_depth(
        stripped.vertices, stripped.vertex_normals, old, Tree(old), reach_mm, finish_mm=paint_mm
    )
    return AsItWas(set_off(kept, Tree(kept), -paint_mm), carried, depth.depth_mm)


@dataclass(frozen=True, eq=False)
class MetalLevel:
    """A shape set in: ``surface``, and ``cramped_mm2`` of the shape that has no room for it; ``warnings``: on that."""

    surface: Surface
    cramped_mm2: float

    @property
    def warnings(self) -> tuple[str, ...]:
        """A plain sentence where the shape is folded too closely."""
        if self.cramped_mm2 < _CRAMPED_MM2:
            return ()
        return (f"{self.cramped_mm2 / 100:.1f} cm2 of the shape are folded closer than the filler is thick (a hem, a "
                "flange): there the metal level is not right; plan without them",)


def metal_level(shape: Surface, filler_mm: float) -> MetalLevel:
    """Metal Level: the ``shape`` set in by the filler's thickness: what the metal should reach first."""
    tree = Tree(shape)
    moved = set_off(shape, tree, -filler_mm)
    return MetalLevel(moved, cramped_mm2(shape, tree, moved, -filler_mm))


@dataclass(frozen=True, eq=False)
class BuiltOver:
    """A shape moved out: ``surface``; ``highest_mm``: how far the highest metal stood proud, denoised; ``offset_mm``:
    by how much it was moved; ``fill_mm3``: all between the panel and it."""

    surface: Surface
    highest_mm: float
    offset_mm: float
    fill_mm3: float


def build_over(
    panel: Surface, shape: Surface, tree: Tree, skin_mm: float = 0.0, progress: Progress = silent
) -> BuiltOver:
    """Build Over: the least even offset outward at which nothing stands proud, with ``skin_mm`` over the highest.

    ``panel`` faces as the ``shape`` does; ``tree`` is the shape's own. It moves gaps and trim: highs are better tapped
    down. Raises NoOverlapError where the two do not lie on one another.
    """
    rules = Rules()
    found = survey(panel, shape, tree, rules, progress=progress)
    if not found.depth.judged.any():
        raise NoOverlapError("panel and finished shape do not lie on one another; line the scan up first")
    highest = max(0.0, -float(found.steady.depth_mm[found.depth.judged].min()))
    offset = highest + skin_mm
    moved = set_off(shape, tree, offset)

    def judge(points: Floats, normals: Floats) -> Depth:
        return measure_depth(points, normals, shape, tree, rules.reach_mm, finish_mm=-offset)

    inside = volumes(between(panel, judge(panel.vertices, panel.vertex_normals), judge))
    return BuiltOver(moved, highest, offset, float(np.sum(inside.fill_mm3)))
