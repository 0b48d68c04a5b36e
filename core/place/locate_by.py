"""What is asked to hold a panel along itself. Loads nothing, so that it can be asked for from anywhere."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import WrongValue

_LEAST_MM, _MOST_MM = 0.01, 10.0


@dataclass(frozen=True)
class Locating:
    """What locates: ``holes``, ``rims`` or both, known to ``sure_mm`` (one standard deviation) on scan and shape.

    >>> Locating(holes=True, sure_mm=50.0)
    Traceback (most recent call last):
    ...
    core.errors.WrongValue: holes and edges known to 50 mm: 0.01 to 10 mm is wanted
    """

    holes: bool = False
    rims: bool = False
    sure_mm: float = 0.5

    def __post_init__(self) -> None:
        if not _LEAST_MM <= self.sure_mm <= _MOST_MM:
            wanted = f"{_LEAST_MM:g} to {_MOST_MM:g} mm is wanted"
            raise WrongValue("locate_mm", f"holes and edges known to {self.sure_mm:g} mm: {wanted}")
