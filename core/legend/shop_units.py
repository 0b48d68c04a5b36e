"""Figures as a workshop reads them: mm, cm2, cm3, g and kg, or decimal inches, sq in, cu in, oz and lb.

``unit`` is "mm" or "inch" throughout, as in the legend. numpy only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..errors import InputError
from ..files.units import PLAUSIBLE_MM
from .legend import INCH_MM

# The avoirdupois pound of 1959, exactly; 16 ounces to it (NIST Special Publication 811, 2008, appendix B).
POUND_G = 453.59237
OUNCE_G = POUND_G / 16


def length(mm: float, unit: str) -> str:
    """A measured length: "4.5 mm", "0.176 in".

    >>> length(4.48, "mm"), length(4.48, "inch"), length(0, "mm")
    ('4.5 mm', '0.176 in', '0.0 mm')
    """
    return f"{mm / INCH_MM:.3f} in" if unit == "inch" else f"{mm:.1f} mm"


def area(mm2: float, unit: str) -> str:
    """An area: "93 cm²", "14.4 sq in".

    >>> area(9300, "mm"), area(9300, "inch"), area(140, "mm"), area(0, "mm")
    ('93 cm²', '14.4 sq in', '1.4 cm²', '0.0 cm²')
    """
    if unit == "inch":
        return f"{_figure(mm2 / INCH_MM**2, 100)} sq in"
    return f"{_figure(mm2 / 100, 10)} cm²"


def volume(mm3: float, unit: str) -> str:
    """A volume: "15.2 cm³", "0.93 cu in"; large ones without figures that nobody lays by.

    >>> volume(15248, "mm"), volume(15248, "inch"), volume(0, "mm")
    ('15.2 cm³', '0.93 cu in', '0.0 cm³')
    >>> volume(148_230, "mm"), volume(99_960, "mm"), volume(230_000, "inch")
    ('148 cm³', '100 cm³', '14.0 cu in')
    """
    if unit == "inch":
        inches = mm3 / INCH_MM**3
        return f"{inches:.1f} cu in" if inches >= 9.995 else f"{inches:.2f} cu in"
    return f"{mm3 / 1000:.0f} cm³" if mm3 >= 99_950 else f"{mm3 / 1000:.1f} cm³"


def mass(g: float, unit: str) -> str:
    """A mass: "384 g", "1.25 kg", "13.5 oz", "2.5 lb".

    >>> mass(384, "mm"), mass(1250, "mm"), mass(384, "inch"), mass(1134, "inch"), mass(0, "mm")
    ('384 g', '1.25 kg', '13.5 oz', '2.5 lb', '0 g')
    """
    if unit == "inch":
        return f"{g / OUNCE_G:.1f} oz" if g < POUND_G else f"{g / POUND_G:.1f} lb"
    return f"{g:.0f} g" if g < 1000 else f"{g / 1000:.2f} kg"


def jobs(share: float) -> str:
    """A share of jobs as people count them: "about 1 job in 7".

    >>> jobs(0.14), jobs(0.05), jobs(0.4), jobs(0.98), jobs(0.0)
    ('about 1 job in 7', 'about 1 job in 20', 'about 4 jobs in 10', 'nearly every job', 'less than 1 job in 1000')
    """
    if share < 0.001:
        return "less than 1 job in 1000"
    if share < 0.3:
        return f"about 1 job in {1 / share:.0f}"
    return f"about {10 * share:.0f} jobs in 10" if share < 0.95 else "nearly every job"


def overall_size(sizes: tuple[float, float, float], unit: str) -> str:
    """Three sizes, mm, in one unit: "700 × 420 × 41 mm", "27.6 × 16.5 × 1.6 in"; in m or ft where they are huge.

    >>> overall_size((700.2, 420, 41), "mm"), overall_size((700.2, 420, 41), "inch")
    ('700 × 420 × 41 mm', '27.6 × 16.5 × 1.6 in')
    >>> overall_size((700e3, 420e3, 41e3), "mm"), overall_size((0.7, 0.42, 0.04), "mm")
    ('700 × 420 × 41 m', '0.70 × 0.42 × 0.04 mm')
    """
    largest = max(sizes)
    if unit == "inch":
        divide, word = (INCH_MM, "in") if largest < 120 * INCH_MM else (12 * INCH_MM, "ft")
    else:
        divide, word = (1.0, "mm") if largest < 10_000 else (1000.0, "m")
    shown = largest / divide
    digits = 2 if shown < 10 else 1 if shown < 100 else 0
    return " × ".join(f"{size / divide:.{digits}f}" for size in sizes) + f" {word}"


def size_warning(sizes: tuple[float, float, float]) -> str:
    """One sentence where a box of these ``sizes``, mm, is no panel's; nothing where it may be.

    >>> size_warning((700, 420, 41))
    ''
    >>> size_warning((700e3, 420e3, 41e3)), size_warning((0, 0, 0))
    ('Too large for a panel: check the unit', 'Too small for a panel: check the unit')
    """
    diagonal = float(np.linalg.norm(sizes))
    if diagonal < PLAUSIBLE_MM[0]:
        return "Too small for a panel: check the unit"
    return "Too large for a panel: check the unit" if diagonal > PLAUSIBLE_MM[1] else ""


def mm_per_unit_from_tape(first: ArrayLike, second: ArrayLike, taped_mm: float) -> float:
    """Millimetres in a scan's unit, from two points (3,) on it and the distance between them as taped, mm.

    >>> mm_per_unit_from_tape([0, 0, 0], [0, 3, 4], 250.0)
    50.0
    >>> mm_per_unit_from_tape([1, 1, 1], [1, 1, 1], 250.0)
    Traceback (most recent call last):
    ...
    core.errors.InputError: size: both points are at one place; click two points far apart
    """
    apart = float(np.linalg.norm(np.subtract(second, first)))
    if not np.isfinite(apart) or apart == 0.0:
        raise InputError("size: both points are at one place; click two points far apart")
    if not (np.isfinite(taped_mm) and taped_mm > 0):
        raise InputError(f"size: a taped distance of {taped_mm:g} mm came; more than 0 is wanted")
    return float(taped_mm) / apart


def _figure(value: float, whole_from: float) -> str:
    return f"{value:.0f}" if value >= whole_from else f"{value:.1f}"
