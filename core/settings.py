"""Everything the user may set for a plan, checked once."""

from __future__ import annotations

import math
import sys
import tomllib
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from .errors import InputError

SURFACES = ("bare", "laid", "primed")


@dataclass(frozen=True)
class Settings:
    """Settings of a plan; lengths in mm. Every default is common practice or from memory, and the user's to change.

    ``surface``: what the panel was when it was scanned, one of SURFACES; only bare metal is ever hammered.
    ``scan_error_mm`` and ``scan_error_length_mm`` None: measured on the panel's sound metal where there is enough.
    """

    material: str = "tin-lead-30-70"
    surface: str = "bare"
    true_mm: float = 0.25
    reach_mm: float = 20.0
    finish_mm: float = 0.0
    risk: float = 0.05
    lay_sigma_mm: float = 0.3
    lay_correlation_mm: float = 12.0
    clean_up_mm: float = 0.2
    surfacer_mm: float = 0.10
    margin_mm: float = 12.7
    line_up_uncertainty_mm: float = 0.05
    scan_error_mm: float | None = None
    scan_error_length_mm: float | None = None
    new_metal_mm: float = 10.0
    least_area_mm2: float = 100.0
    reserve_share: float = 0.25

    def __post_init__(self) -> None:
        if self.surface not in SURFACES:
            raise InputError(f"setting surface: {self.surface!r} came; one of {', '.join(SURFACES)} is wanted")
        for name, (low, high) in _LIMITS.items():
            value = getattr(self, name)
            if value is not None:
                _check_within(name, value, low, high)

    @property
    def bump_spacing_mm(self) -> float:
        """How far apart the bumps of a laid surface are, mm: what ``lay_correlation_mm`` is on the bench.

        A Gaussian field with covariance exp(-d^2 / 2 l^2) rises through its mean once in 2 pi l along a line (Rice
        1945, Bell System Technical Journal 24, formula 3.3-11: rate sqrt(-r''(0) / r(0)) / 2 pi).
        """
        return _BUMPS_APART * self.lay_correlation_mm

    def changed(self, changes: dict[str, Any]) -> Settings:
        """The same settings with ``changes`` by name; those that are None change nothing.

        ``bump_spacing_mm`` may stand for ``lay_correlation_mm``; both at once are refused.

        >>> round(Settings().changed({"bump_spacing_mm": 50.0}).lay_correlation_mm, 2)
        7.96
        >>> Settings().changed({"bump_spacing_mm": None}) == Settings()
        True
        """
        said = {name: value for name, value in changes.items() if value is not None}
        if "bump_spacing_mm" in said:
            if "lay_correlation_mm" in said:
                raise InputError("settings bump_spacing_mm and lay_correlation_mm: both came, and they say the same "
                                 "thing; give one")
            spacing = said.pop("bump_spacing_mm")
            _check_within("bump_spacing_mm", spacing, *limits("bump_spacing_mm"))
            said["lay_correlation_mm"] = spacing / _BUMPS_APART
        return replace(self, **said)

    def as_dict(self) -> dict[str, Any]:
        """The settings by name."""
        return asdict(self)


def _check_within(name: str, value: Any, low: float, high: float) -> None:
    if not isinstance(value, int | float) or isinstance(value, bool) or value != value:
        raise InputError(f"setting {name}: {value!r} came; a number is wanted")
    if not low <= value <= high:
        came = f"{value:g}" if abs(value) <= sys.float_info.max else "a number without end"
        hint = {"risk": "; 0.05 stands for 5 %", "reserve_share": "; 0.25 stands for 25 %"}.get(name, "")
        raise InputError(f"setting {name}: {came} came; {low:g} to {high:g} is wanted{hint}")


_BUMPS_APART = 2.0 * math.pi  # spacing of bumps over correlation length

# What makes sense at all; beyond it a unit or a decimal point was mistaken.
_LIMITS: dict[str, tuple[float, float]] = {
    "true_mm": (0.01, 10.0), "reach_mm": (0.5, 500.0), "finish_mm": (-5.0, 5.0), "risk": (1e-4, 0.5),
    "lay_sigma_mm": (0.0, 5.0), "lay_correlation_mm": (0.5, 200.0), "clean_up_mm": (0.0, 5.0),
    "surfacer_mm": (0.0, 2.0), "margin_mm": (0.0, 100.0), "line_up_uncertainty_mm": (0.0, 5.0),
    "scan_error_mm": (0.0, 10.0), "scan_error_length_mm": (0.0, 200.0), "new_metal_mm": (0.5, 100.0),
    "least_area_mm2": (1.0, 100_000.0), "reserve_share": (0.0, 2.0),
}


def limits(name: str) -> tuple[float, float]:
    """The least and the greatest that the setting ``name``, a number, may be.

    >>> limits("risk")
    (0.0001, 0.5)
    """
    if name == "bump_spacing_mm":
        least, most = _LIMITS["lay_correlation_mm"]
        return _BUMPS_APART * least, _BUMPS_APART * most
    return _LIMITS[name]


def read_settings(path: Path) -> dict[str, Any]:
    """Settings by name from a TOML file, for `Settings.changed`; names that there are none of are refused."""
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8-sig"))  # some editors put a mark first
    except OSError as error:
        raise InputError(f"settings file {path}: it can't be read ({error.strerror}); check the name") from error
    except ValueError as error:  # not UTF-8, not TOML, or a number of thousands of digits
        raise InputError(f"settings file {path}: it is not TOML ({error}); write lines like: risk = 0.05") from error
    known = {"bump_spacing_mm", *(field.name for field in fields(Settings))}
    for name in found:
        if name not in known:
            names = ", ".join(sorted(known))
            raise InputError(f"settings file {path}: there is no setting {name!r}; there are {names}")
    if not isinstance(found.get("material", ""), str):
        raise InputError(f"settings file {path}: material is a name in quotes")
    return found
