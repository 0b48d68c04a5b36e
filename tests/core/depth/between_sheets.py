"""What the depth rooms say of a panel and a target, in one call for the tests."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from core.depth.depth import Depth, measure_depth
from core.depth.sheets import Sheets, between
from core.depth.volume import Volumes, volumes
from core.surface.nearest import Tree
from core.surface.surface import Surface


@dataclass(frozen=True)
class Found:
    """Depth, sheets and volumes, and the sums of fill and cut, mm3."""

    depth: Depth
    sheets: Sheets
    volumes: Volumes

    @property
    def fill(self) -> float:
        return float(self.volumes.fill_mm3.sum())

    @property
    def cut(self) -> float:
        return float(self.volumes.cut_mm3.sum())


def found_between(panel: Surface, target: Surface, reach_mm: float = 20.0, finish_mm: float = 0.0) -> Found:
    """Depth and enclosed volumes of ``panel`` under ``target``, as the survey takes them."""
    judge = partial(measure_depth, target=target, tree=Tree(target), reach_mm=reach_mm, finish_mm=finish_mm)
    depth = judge(panel.vertices, panel.vertex_normals)
    sheets = between(panel, depth, judge)
    return Found(depth, sheets, volumes(sheets))
