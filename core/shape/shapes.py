"""The ways to a finished shape that need no fitting of their own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.depth import Depth, Reason, measure_depth
from ..depth.shape_trust import ShapeTrust, everywhere, together
from ..depth.sheets import between
from ..depth.survey import Rules, Survey, survey
from ..depth.volume import volumes
from ..errors import NoOverlapError
from ..progress import Progress, silent
from ..surface.nearest import Tree
from ..surface.surface import Floats, Mask, Surface
from .carry_through import Carried, carry_through
from .set_off import cramped_mm2, set_off

_CRAMPED_MM2 = 10.0  # less is a corner's own line
_UNJUDGED_MM2 = 100.0  # less is a rim's own line
# Paint may well be half as thick again, or half as thin (0.1 to 0.3 mm about 0.2: common practice, no source): spread
# evenly over as much as it is thick, its standard deviation is that over the square root of 12 (GUM 2008, 4.3.7).
_PAINT_SHARE = 0.289
_FARTHEST = 0.25  # of the shape's diagonal: metal farther off is no part of it
MOVES = "It moves gaps and trim, and costs filler everywhere: highs of bare metal are better tapped down or shrunk"


@dataclass(frozen=True, eq=False)
class AsItWas:
    """A shape from an old scan: ``surface``, bare; ``carried`` where its bad spots were carried through, or None;
    ``filler_mm`` (n,): thickness that lay on each vertex of the stripped panel, nan where not judged; ``trust`` of the
    surface's vertices, but for the old scan's own line-up."""

    surface: Surface
    carried: Carried | None
    filler_mm: Floats
    trust: ShapeTrust

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is to be minded where bad spots were carried through."""
        return () if self.carried is None else self.carried.warnings


def as_it_was(
    old: Surface, stripped: Surface, paint_mm: float, bad: Mask | None, reach_mm: float = 20.0, with_lines: bool = True
) -> AsItWas:
    """As It Was: the panel scanned before it was stripped, ``bad`` spots (n,) carried through, ``paint_mm`` taken off.

    ``stripped``: the bare panel, lined up with it: the old skin less the bare metal less the paint is the old fill.
    Raises NoOverlapError where none of it lies on the old scan.
    """
    carried = carry_through(old, bad, with_lines=with_lines) if bad is not None and bad.any() else None
    kept = old if carried is None else carried.surface
    depth = measure_depth(
        stripped.vertices, stripped.vertex_normals, old, Tree(old), reach_mm, finish_mm=paint_mm
    )
    if not depth.judged.any():
        raise NoOverlapError("the two scans do not lie on one another; line the stripped one up first")
    paint = everywhere(len(old.vertices), _PAINT_SHARE * paint_mm)
    trust = paint if carried is None else together(paint, carried.trust) or paint
    return AsItWas(set_off(kept, Tree(kept), -paint_mm), carried, depth.depth_mm, trust)


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
        return (f"{self.cramped_mm2 / 100:.1f} cm² of the shape are folded closer than the filler is thick (a hem, a "
                "flange): there the metal level is not right; plan without them",)


def metal_level(shape: Surface, filler_mm: float) -> MetalLevel:
    """Metal Level: the ``shape`` set in by the filler's thickness: what the metal should reach first."""
    tree = Tree(shape)
    moved = set_off(shape, tree, -filler_mm)
    return MetalLevel(moved, cramped_mm2(shape, tree, moved, -filler_mm))


@dataclass(frozen=True, eq=False)
class BuiltOver:
    """A shape moved out: ``surface``; ``highest_mm``: how far the highest metal stood proud, beyond what noise can
    make; ``offset_mm``: by how much it was moved; ``fill_mm3``: all between the panel and it, with
    its sign; ``proud_mm``: how far each of the points that stand proud of it still does, in no place enough of them for
    a high, and ``proud_mm2`` of them; ``not_judged_mm2`` of the panel; ``survey``: of the panel against the shape as it
    came."""

    surface: Surface
    highest_mm: float
    offset_mm: float
    fill_mm3: float
    proud_mm: Floats
    proud_mm2: float
    not_judged_mm2: float
    survey: Survey

    @property
    def warnings(self) -> tuple[str, ...]:
        """Plain sentences on what does not move the shape, or is not known."""
        said = []
        if not self.survey.areas.of_kind("high"):
            said.append("no highs are found beyond noise and what counts as true: the shape is moved by the skin "
                        f"alone, {self.offset_mm:.2f} mm")
        if len(self.proud_mm):
            said.append(f"{self.proud_mm2 / 100:.2f} cm² still stand proud of the moved shape, by up to "
                        f"{self.proud_mm.max():.2f} mm, too few in one place for a high: look at them, and cut them "
                        "out of the scan or add skin")
        if self.not_judged_mm2 >= _UNJUDGED_MM2:
            said.append(f"{self.not_judged_mm2 / 100:.0f} cm² of the panel are not measured: what stands proud there, "
                        "and what is to be filled, is not in these figures")
        return tuple(said)


def build_over(
    panel: Surface, shape: Surface, tree: Tree, skin_mm: float = 0.0, progress: Progress = silent,
    trust: ShapeTrust | None = None,
) -> BuiltOver:
    """Build Over: the least even offset outward at which no high stands proud, with ``skin_mm`` over the highest.

    ``panel`` faces as the ``shape`` does; ``tree`` is the shape's own, ``trust`` of its vertices, where it was itself
    made here. It moves gaps and trim: highs are better tapped down. Where no high is told from noise, only the skin
    moves it. Raises NoOverlapError where the two do not lie on one another.
    """
    rules = Rules(reach_mm=_far_enough_mm(panel, shape, tree))
    found = survey(panel, shape, tree, rules, progress=progress, trust=trust)
    if not found.depth.judged.any():
        raise NoOverlapError("panel and finished shape do not lie on one another; line the scan up first")
    highest = _highest_mm(found)
    offset = highest + skin_mm
    moved = set_off(shape, tree, offset)

    def judge(points: Floats, normals: Floats) -> Depth:
        return measure_depth(points, normals, shape, tree, rules.reach_mm, finish_mm=-offset)

    inside = volumes(between(panel, judge(panel.vertices, panel.vertex_normals), judge))
    judged = found.depth.judged
    proud = -found.depth.depth_mm[judged] - offset
    stands = proud > max(rules.true_mm, _peak_mm(found, int(judged.sum())))
    proud_mm2 = float(panel.vertex_areas[judged][stands].sum())
    unknown = float(panel.vertex_areas[~judged].sum())
    # With its sign, so that noise on metal that just reaches the shape averages out.
    fill = max(0.0, float(np.sum(inside.signed_mm3)))
    return BuiltOver(moved, highest, offset, fill, proud[stands], proud_mm2, unknown, found)


def _far_enough_mm(panel: Surface, shape: Surface, tree: Tree) -> float:
    """The reach at which no judged metal runs on into metal that is too far: the deepest and the highest are judged."""
    reach = Rules().reach_mm
    while 2 * reach < _FARTHEST * shape.diagonal:
        depth = measure_depth(panel.vertices, panel.vertex_normals, shape, tree, reach)
        beyond = (depth.reason == Reason.TOO_FAR).astype(np.float64)
        if not ((panel.edge_counts @ beyond > 0) & depth.judged).any():
            break
        reach *= 2
    return reach


def _highest_mm(found: Survey) -> float:
    """How far the highest metal of all highs stands proud, mm: denoised, and where a high is too narrow for that, as
    measured less what noise makes of the highest of so many points."""
    areas = found.areas
    high = np.array([False, *(area.kind == "high" for area in areas.found)])[areas.label]
    if not high.any():
        return 0.0
    measured = float(-found.depth.depth_mm[high].min()) - _peak_mm(found, int(high.sum()))
    return max(measured, float(-found.steady.depth_mm[high].min()), 0.0)


def _peak_mm(found: Survey, count: int) -> float:
    """What noise alone makes of the highest of ``count`` points, mm: sqrt(2 ln n) standard deviations, which the
    greatest of n normal values tends to (Cramer 1946, from memory)."""
    return found.noise.sigma_mm * float(np.sqrt(2 * np.log(max(count, 1))))
