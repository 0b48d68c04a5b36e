"""What makes sense of a length that a job is asked for."""

from __future__ import annotations

from ..errors import WrongValue


def check_mm(value: float, name: str, what: str, least: float, most: float) -> None:
    """Raise WrongValue where ``value``, ``what`` in words and in a request ``name``, is not ``least`` to ``most`` mm.

    >>> check_mm(12.0, "paint_mm", "paint", 0, 10)
    Traceback (most recent call last):
    ...
    core.errors.WrongValue: paint: 12 mm came; 0 to 10 mm is wanted
    """
    if not least <= value <= most:
        raise WrongValue(name, f"{what}: {value:g} mm came; {least:g} to {most:g} mm is wanted")
