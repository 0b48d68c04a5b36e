"""A panel brought onto a finished shape: start, facing, fit, in that order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.outer_side import facing_target, rows_left
from ..errors import InputError
from ..progress import Progress, silent, within
from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface
from .fit import InitialPose, Target
from .locate_by import Locating
from .motion import STILL, Motion, from_pairs
from .register import SURFACE_ALONE, Registered, register
from .rough import guess

_REACH_MM, _REACH_SHARE = 20.0, 0.05
_CLOSE_MM = 1.0  # a guess that leaves most of the panel further off may be of a mirrored scan
_MIRROR_CLOSER = 3.0
_WRONG_CLICK_MM = 8.0  # points clicked 5 mm wrong on both meshes hardly lie further off
_LEAST_SHARE, _LIES_MM = 0.3, 1.0


@dataclass(frozen=True, eq=False)
class Landmarks:
    """Matching points (k, 3) mm, each in its own file's frame; each may be some millimetres wrong."""

    panel: Floats
    target: Floats


@dataclass(frozen=True, eq=False)
class Onto:
    """A panel in the shape's frame: ``panel``; ``motion`` from its own file's frame, in mm; the ``fit``; what was
    ``turned`` over; ``sureness`` of a start without landmarks, else None; ``warnings``: plain sentences."""

    panel: Surface
    motion: Motion
    fit: Registered
    turned: tuple[str, ...]
    sureness: float | None
    warnings: tuple[str, ...]


def onto(
    panel: Surface, shape: Surface, tree: Tree, landmarks: Landmarks | None = None, aside: Mask | None = None,
    locating: Locating = SURFACE_ALONE, finish_mm: float = 0.0, progress: Progress = silent,
) -> Onto:
    """``panel`` brought onto ``shape``, whose own ``tree`` comes with it; each counted from its own origin.

    Without ``landmarks`` the likely turns are tried, and a doubtful one is warned of. ``aside`` (n,): vertices that
    take no part. ``locating``: holes and rims that hold it along itself. ``finish_mm``: paint on the shape and not
    on the panel. Raises InputError where landmarks can't serve, or no start brings the two together.
    """
    target = Target(shape, tree, max(_REACH_MM, _REACH_SHARE * panel.diagonal), finish_mm)
    start, sureness, warnings = _start(panel, target, landmarks, within(progress, 0.0, 0.4))
    came = Surface(start.motion.of(panel.vertices), panel.triangles, shape.origin, panel.row_of_input)
    here, turned = facing_target(came, shape, tree)
    if aside is not None:
        aside = _left_of(aside, rows_left(came, here), len(here.vertices))
    fit = register(
        here, target, InitialPose(STILL, start.prior_sigma_mm), aside, locating, within(progress, 0.4, 1.0)
    )
    moved = Surface(fit.motion.of(here.vertices), here.triangles, shape.origin, here.row_of_input)
    local = fit.motion @ start.motion
    motion = Motion(local.rotation, local.shift + shape.origin - local.rotation @ panel.origin)
    return Onto(moved, motion, fit, turned, sureness, (*warnings, *fit.warnings))


def _left_of(marks: Mask, rows: Ints, count: int) -> Mask:
    """Marks (n,) of vertices of which some were left out, for the ``count`` that are left."""
    left = np.zeros(count, dtype=bool)
    left[rows[marks & (rows >= 0)]] = True
    return left


def _start(
    panel: Surface, target: Target, landmarks: Landmarks | None, progress: Progress
) -> tuple[InitialPose, float | None, tuple[str, ...]]:
    if landmarks is not None:
        points, partners = landmarks.panel - panel.origin, landmarks.target - target.surface.origin
        return _clicked(points, partners)
    found = guess(panel, target, progress)
    if found.off_mm > _CLOSE_MM or not found.sure:
        here = Motion(np.eye(3), panel.origin - target.surface.origin)
        if found.off_mm > _CLOSE_MM and _lies(panel, target, here):
            return InitialPose(here), None, ()
        _check_not_mirrored(panel, target, found.off_mm, progress)
    if found.off_mm >= target.reach_mm:
        raise InputError("line-up: no turn brings the panel onto the finished shape; check the units, "
                         "or click three matching points")
    if found.sure:
        return found.start, found.sureness, ()
    doubt = (f"another turn fits nearly as well as the one taken ({found.sureness:.1f} times as far off): look whether "
             "the panel lies the right way round, or click three matching points")
    return found.start, found.sureness, (doubt,)


def _clicked(points: Floats, partners: Floats) -> tuple[InitialPose, None, tuple[str, ...]]:
    """The start from matching points; one that lies far from where the others put it was clicked wrongly."""
    motion = from_pairs(points, partners)
    off = np.linalg.norm(motion.of(points) - partners, axis=1)
    worst = int(off.argmax())
    if off[worst] <= _WRONG_CLICK_MM:
        return InitialPose(motion), None, ()
    doubt = InitialPose(motion, max(InitialPose.prior_sigma_mm, 2 * float(off[worst])))
    return doubt, None, (f"the matching points do not match: pair {worst + 1} lies {off[worst]:.0f} mm off where all "
                         "of them put it; look at them, and click the wrong one again",)


def _check_not_mirrored(panel: Surface, target: Target, off_mm: float, progress: Progress) -> None:
    image = Surface(panel.vertices * [-1.0, 1.0, 1.0], panel.triangles[:, ::-1])
    if _MIRROR_CLOSER * guess(image, target, progress).off_mm < off_mm:
        raise InputError(
            "line-up: the panel fits only as its mirror image; take the other side's shape, or check the scan's axes"
        )


def _lies(panel: Surface, target: Target, here: Motion) -> bool:
    """Whether the panel lies on the shape already: a part of a shape that was made from it, say its mirrored half."""
    depth = target.depth(here.of(panel.vertices), panel.vertex_normals)
    judged = depth.judged
    return bool(judged.mean() >= _LEAST_SHARE) and float(np.median(np.abs(depth.depth_mm[judged]))) < _LIES_MM


def read_landmarks(text: str, where: str, panel_mm: float, target_mm: float) -> Landmarks:
    """Landmarks from lines of six numbers, x y z on the panel and x y z on the shape, in the units of their files.

    ``panel_mm`` and ``target_mm``: millimetres in those units. Commas or spaces between; # begins a comment.

    >>> read_landmarks("0 0 0  1 2 3 # corner\\n1,0,0, 2,2,3\\n0 1 0 1 3 3", "a.txt", 10.0, 1.0).panel[1]
    array([10.,  0.,  0.])
    >>> read_landmarks("1 2 3", "a.txt", 1.0, 1.0)
    Traceback (most recent call last):
    ...
    core.errors.InputError: a.txt: line 1 holds 3 numbers; six are wanted: x y z on the panel, x y z on the shape
    """
    rows = []
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.partition("#")[0].replace(",", " ").split()
        if not words:
            continue
        if len(words) != 6:
            raise InputError(
                f"{where}: line {number} holds {len(words)} numbers; six are wanted: x y z on the panel, "
                "x y z on the shape"
            )
        try:
            rows.append([float(word) for word in words])
        except ValueError as error:
            raise InputError(f"{where}: line {number} is not six numbers: {line.strip()!r}") from error
    if len(rows) < 3:
        raise InputError(f"{where}: it holds {len(rows)} pairs of points; three or more are wanted")
    table = np.array(rows)
    if not np.isfinite(table).all():
        raise InputError(f"{where}: a number in it is not finite; write the points again")
    return Landmarks(table[:, :3] * panel_mm, table[:, 3:] * target_mm)
