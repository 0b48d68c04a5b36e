"""The steps of depth and their colours, as data, and the way from a depth to its colour.

Depth is positive where the panel lies below the finished shape (low, to fill) and negative where it
stands proud (high). Every function here takes that depth, in a check too: there a positive depth is what
is short and a negative one what is left to file (``left_to_file_mm`` is minus the depth).
An exact edge belongs to the step nearer to true: 0.25 mm is still true, 0.5 mm is still "0.25 to 0.5 mm".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError

Colour = tuple[int, int, int]
StepKind = Literal["high", "true", "low", "too_deep", "not_judged"]

INCH_MM = 25.4
UNIT_WORD = {"mm": "mm", "inch": "in"}
EDGES_MM: dict[str, tuple[float, ...]] = {
    "mm": (0.25, 0.5, 1.0, 2.0, 5.0, 10.0),
    "inch": (INCH_MM / 64, INCH_MM / 32, INCH_MM / 16, INCH_MM / 8, INCH_MM / 4),
}

# Chosen in CIE lightness, chroma and hue, so that L* falls by 10.7 a step from chalk (95.5) to indigo and by
# 13.6 a step from chalk to brick, and still by more than 8 as protan, deutan and tritan eyes see them.
# A depth keeps its colour whatever the tolerance is, so that two maps can be laid side by side.
CHALK: Colour = (245, 242, 234)
LOW: tuple[Colour, ...] = (
    (173, 220, 224),  # pale sea
    (108, 195, 206),
    (36, 167, 195),  # teal
    (4, 135, 184),
    (4, 102, 172),  # blue
    (21, 69, 156),  # indigo
)
HIGH: tuple[Colour, ...] = (
    (235, 199, 133),  # ochre
    (215, 155, 74),
    (195, 108, 53),
    (155, 74, 32),  # rust
)
VIOLET: Colour = (70, 14, 109)
SHADE: Colour = (102, 99, 94)  # a scan's usual grey, darkened

SLIVER = 1.1  # an edge closer than this ratio to the tolerance or the greatest depth gives way to it


@dataclass(frozen=True)
class Step:
    """One step of depth: above ``low_mm`` up to ``high_mm`` (signed, may be infinite), colour 0 to 255, label.

    Both bounds are infinite where the step is "not judged": nan is not equal to itself, and legends are compared.
    """

    low_mm: float
    high_mm: float
    colour: Colour
    label: str
    kind: StepKind

    @property
    def hatch(self) -> bool:
        """Whether the step is drawn with a hatch: deeper than the material may go."""
        return self.kind == "too_deep"

    @property
    def dots(self) -> bool:
        """Whether the step is drawn with dots: not judged."""
        return self.kind == "not_judged"


@dataclass(frozen=True)
class Legend:
    """Steps from the highest metal through true to the deepest low, "not judged" last.

    ``true_mm`` is the tolerance, ``greatest_mm`` the material's greatest recommended depth, or None.
    ``even_mm``: the cut is drawn evenly up to about this depth, and by ratios further out.
    """

    steps: tuple[Step, ...]
    true_mm: float
    greatest_mm: float | None
    unit: str
    kind: str
    even_mm: float = 1.0

    @cached_property
    def edges_mm(self) -> NDArray[np.float64]:
        """Signed depths between neighbouring steps, rising, (steps - 2,) mm: where contours run."""
        return np.array([step.low_mm for step in self.steps[1:-1]])

    @cached_property
    def true_step(self) -> int:
        """Index of the step that is true."""
        return next(row for row, step in enumerate(self.steps) if step.kind == "true")


def legend(
    true_mm: float = 0.25, greatest_mm: float | None = None, unit: str = "mm", kind: str = "plan"
) -> Legend:
    """The legend for a tolerance and a material, both in mm; ``unit`` "mm" or "inch" sets steps and labels.

    The first edge is ``true_mm`` itself; the fixed edges within it, or beyond ``greatest_mm``, are dropped.
    ``kind`` "plan" speaks of low and high, "check" of short and left to file.
    Raises `InputError` for an unknown unit or kind, or depths that are not in order.

    >>> [step.label for step in legend(greatest_mm=1.0).steps]
    ['High over 2 mm', 'High 1 to 2 mm', 'High 0.5 to 1 mm', 'High 0.25 to 0.5 mm', 'True (within 0.25 mm)',
     'Low 0.25 to 0.5 mm', 'Low 0.5 to 1 mm', 'Deeper than 1 mm', 'Not measured']
    >>> legend(true_mm=0)
    Traceback (most recent call last):
    ...
    core.errors.InputError: true tolerance: 0 mm came; more than 0 mm is wanted, 0.25 mm is usual
    """
    _check(true_mm, greatest_mm, unit, kind)
    short, proud, right = ("Low", "High", "True") if kind == "plan" else ("Short", "Left to file", "Enough")
    edges = EDGES_MM[unit]
    high = _bands(true_mm, math.inf, edges[: len(HIGH)], HIGH)
    low = _bands(true_mm, greatest_mm or math.inf, edges, LOW)
    steps = [Step(-b, -a, c, f"{proud} {_span(a, b, unit)}", "high") for a, b, c in reversed(high)]
    steps.append(Step(-true_mm, true_mm, CHALK, f"{right} (within {length_words(true_mm, unit)})", "true"))
    steps += [Step(a, b, c, f"{short} {_span(a, b, unit)}", "low") for a, b, c in low]
    if greatest_mm is not None:
        label = f"Deeper than {length_words(greatest_mm, unit)}"
        steps.append(Step(greatest_mm, math.inf, VIOLET, label, "too_deep"))
    steps.append(Step(math.inf, math.inf, SHADE, "Not measured", "not_judged"))
    return Legend(tuple(steps), float(true_mm), greatest_mm, unit, kind)


def step_of(depth_mm: ArrayLike, key: Legend, judged: ArrayLike | None = None) -> NDArray[np.int64]:
    """Index into ``key.steps`` for each depth (n,) in mm, positive below the finished shape.

    Not judged where the depth is not finite or ``judged`` (n,) is False. An exact edge belongs to the step
    nearer to true.

    >>> key = legend()
    >>> [key.steps[row].label for row in step_of([-0.3, 0.25, 0.26, np.nan], key)]
    ['High 0.25 to 0.5 mm', 'True (within 0.25 mm)', 'Low 0.25 to 0.5 mm', 'Not measured']
    >>> step_of([], key)
    array([], dtype=int64)
    """
    depth = np.asarray(depth_mm, dtype=np.float64)
    known = np.isfinite(depth)
    if judged is not None:
        mask = np.asarray(judged, dtype=bool)
        if mask.shape != depth.shape:
            raise InputError(f"legend: {mask.shape} judged marks came for {depth.shape} depths; one each is wanted")
        known &= mask
    proud = np.searchsorted(key.edges_mm, depth, side="right")
    below = np.searchsorted(key.edges_mm, depth, side="left")
    row: NDArray[np.int64] = np.where(known, np.where(depth < 0, proud, below), len(key.steps) - 1)
    return row.astype(np.int64)


def colours(depth_mm: ArrayLike, key: Legend, judged: ArrayLike | None = None) -> NDArray[np.uint8]:
    """Colour of each depth (n,) in mm, (n, 3), 0 to 255; rules as `step_of`.

    >>> colours([0.0, np.nan], legend())
    array([[245, 242, 234],
           [102,  99,  94]], dtype=uint8)
    >>> colours([], legend()).shape
    (0, 3)
    """
    palette = np.array([step.colour for step in key.steps], dtype=np.uint8)
    return palette[step_of(depth_mm, key, judged)]


def number_words(length_mm: float, unit: str) -> str:
    """A length without its unit: "0.25" in mm, "1/64" in inches where it is one, else decimals of an inch.

    >>> number_words(0.25, "mm"), number_words(25.4 / 16, "inch"), number_words(31.75, "inch")
    ('0.25', '1/16', '1 1/4')
    >>> number_words(3.2, "inch"), number_words(0, "inch")
    ('0.126', '0')
    """
    if unit == "mm":
        return f"{round(length_mm, 3):g}"
    parts = round(length_mm / INCH_MM * 64)
    if abs(length_mm / INCH_MM * 64 - parts) > 0.01:
        return f"{length_mm / INCH_MM:.3f}"
    whole, rest = divmod(parts, 64)
    shared = math.gcd(rest, 64)
    words = ([str(whole)] if whole or not rest else []) + ([f"{rest // shared}/{64 // shared}"] if rest else [])
    return " ".join(words)


def length_words(length_mm: float, unit: str) -> str:
    """A length in shop units with its unit: "3.2 mm", "1/8 in".

    >>> length_words(3.175, "inch"), length_words(0, "mm")
    ('1/8 in', '0 mm')
    """
    return f"{number_words(length_mm, unit)} {UNIT_WORD[unit]}"


def relative_luminance(colour: Colour) -> float:
    """WCAG 2 relative luminance of an sRGB colour, 0 (black) to 1 (white).

    Source: W3C, Web Content Accessibility Guidelines 2.1, "relative luminance", with IEC 61966-2-1's 0.04045.

    >>> relative_luminance((255, 255, 255)), relative_luminance((0, 0, 0))
    (1.0, 0.0)
    """
    shares = [value / 255 for value in colour]
    red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _bands(
    true_mm: float, greatest_mm: float, edges: tuple[float, ...], palette: tuple[Colour, ...]
) -> list[tuple[float, float, Colour]]:
    """(from, to, colour) of each step outward from true, in mm without sign."""
    inner = [edge for edge in edges[1:] if true_mm * SLIVER <= edge and edge * SLIVER <= greatest_mm]
    starts = [true_mm, *inner]
    # the band that a depth falls in names its colour, even where the band's own edge has been dropped
    rows = [sum(edge <= max(start * SLIVER, edges[0]) for edge in edges) - 1 for start in starts]
    return [(a, b, palette[row]) for a, b, row in zip(starts, [*inner, greatest_mm], rows, strict=True)]


def _span(low_mm: float, high_mm: float, unit: str) -> str:
    if math.isinf(high_mm):
        return f"over {length_words(low_mm, unit)}"
    return f"{number_words(low_mm, unit)} to {length_words(high_mm, unit)}"


def _check(true_mm: float, greatest_mm: float | None, unit: str, kind: str) -> None:
    if unit not in EDGES_MM:
        raise InputError(f"legend: the unit {unit!r} came; 'mm' or 'inch' is wanted")
    if kind not in ("plan", "check"):
        raise InputError(f"legend: the kind {kind!r} came; 'plan' or 'check' is wanted")
    if not (math.isfinite(true_mm) and true_mm > 0):
        raise InputError(f"true tolerance: {true_mm:g} mm came; more than 0 mm is wanted, 0.25 mm is usual")
    if greatest_mm is not None and not (math.isfinite(greatest_mm) and greatest_mm > true_mm):
        raise InputError(
            f"greatest depth: {greatest_mm:g} mm came; it must be more than the true tolerance of {true_mm:g} mm"
        )
