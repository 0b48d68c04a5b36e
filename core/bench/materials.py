"""Body solders and fillers: their figures, each with its source, from our file and the user's own."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ..errors import InputError
from .cautions import Moment, cautions_for

BUILT_IN = Path(__file__).with_name("materials.toml")

# Handbook densities at 20 C, g/cm3.
ELEMENT_DENSITIES: Mapping[str, float] = MappingProxyType(
    {"Sn": 7.29, "Pb": 11.34, "Zn": 7.14, "Cu": 8.96, "Ag": 10.49}
)


@dataclass(frozen=True)
class Material:
    """One solder or filler; materials.toml says what each field means, ``source`` where each figure comes from.

    Shares are fractions (0.02 is 2 %). ``hardener_share`` and ``pot_life_min`` are None where there is no hardener,
    ``paste_g_cm2`` and ``flux_g_cm2`` where nothing is tinned;
    ``price_per_kg``, in the user's money, is 0 where it is not known.
    """

    name: str
    title: str
    kind: str
    holds_lead: bool
    density_g_cm3: float
    pass_mm: float
    greatest_depth_mm: float
    contraction: float
    pack_word: str
    pack_g: float
    waste_share: float
    hardener_share: float | None = None
    pot_life_min: float | None = None
    paste_g_cm2: float | None = None
    flux_g_cm2: float | None = None
    price_per_kg: float = 0.0
    cautions: tuple[Moment, ...] = ()
    source: Mapping[str, str] = field(default_factory=dict, hash=False)


def _range(least: float, most: float, open_least: bool = True, open_most: bool = False) -> Callable[[Any], bool]:
    """Whether a value is a number between the two; nan and the infinite never are, nor is true or false."""

    def fits(value: Any) -> bool:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return False
        above = least < value if open_least else least <= value
        return above and (value < most if open_most else value <= most)

    return fits


def _is_words(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())


# The upper ends catch kg/m3 for g/cm3, per cent for shares, micrometres for millimetres.
_FIGURES: dict[str, tuple[Callable[[Any], bool], str]] = {
    "density_g_cm3": (_range(0, 23), "a number above 0 and up to 23, in g/cm3"),
    "pass_mm": (_range(0, 100), "a number above 0 and up to 100, in mm"),
    "greatest_depth_mm": (_range(0, 100), "a number above 0 and up to 100, in mm"),
    "contraction": (_range(0, 1, open_least=False, open_most=True), "a share from 0 to below 1 (0.02 is 2 %)"),
    "pack_g": (_range(0, 1e6), "a number above 0 and up to 1 000 000, in g"),
    "waste_share": (_range(0, 1, open_least=False), "a share from 0 to 1 (0.1 is 10 %)"),
    "hardener_share": (_range(0, 1), "a share above 0 and up to 1 (0.02 is 2 %)"),
    "pot_life_min": (_range(0, 10_000), "a number above 0 and up to 10 000, in minutes"),
    "paste_g_cm2": (_range(0, 10), "a number above 0 and up to 10, in g/cm2"),
    "flux_g_cm2": (_range(0, 10), "a number above 0 and up to 10, in g/cm2"),
    "price_per_kg": (_range(0, 1e9, open_least=False), "a number from 0 up, in your money for a kg"),
}
_OTHERS: dict[str, tuple[Callable[[Any], bool], str]] = {
    "title": (_is_words, "words in quotes"),
    "kind": (lambda value: value in ("solder", "filler"), '"solder" or "filler"'),
    "holds_lead": (lambda value: isinstance(value, bool), "true or false"),
    "pack_word": (_is_words, "a word in quotes"),
    "cautions": (
        lambda value: isinstance(value, list) and all(map(_is_words, value)), "a list of sentences in quotes"
    ),
    "source": (
        lambda value: isinstance(value, dict) and set(value) <= set(_FIGURES) and all(map(_is_words, value.values())),
        "a table of words in quotes, each under the name of a figure",
    ),
}
_FIELDS = {**_OTHERS, **_FIGURES}
_MAY_BE_LEFT_OUT = {
    "hardener_share", "pot_life_min", "paste_g_cm2", "flux_g_cm2", "price_per_kg", "cautions", "source",
}


def load(path: Path | None = None) -> dict[str, Material]:
    """All materials by name: ours, and those of the user's file at ``path``, which may add or change some.

    For a name that we have, the user's fields replace ours one by one, and the file is named as their source.
    Raises InputError, naming file, material and field, for anything in it that can't be used.

    >>> load()["tin-lead-30-70"].density_g_cm3
    9.72
    >>> load(Path("not_there.toml"))
    Traceback (most recent call last):
    ...
    core.errors.InputError: not_there.toml: it can't be read (No such file or directory); give a materials...
    """
    entries = _read(BUILT_IN)
    file = BUILT_IN.name
    if path is not None:
        file = path.name
        for name, entry in _read(path).items():
            entries[name] = _overlaid(entries.get(name, {}), entry, file)
    return {name: _material(name, entry, file) for name, entry in entries.items()}


def pick(name: str, path: Path | None = None) -> Material:
    """The material called ``name``, from ours and the user's file; raises InputError with the names there are.

    >>> pick("polyester").kind
    'filler'
    >>> pick("butter")
    Traceback (most recent call last):
    ...
    core.errors.InputError: material: there is no 'butter'; choose one of tin-lead-30-70, tin-lead-40-60, lead-free, ...
    """
    materials = load(path)
    if name not in materials:
        raise InputError(f"material: there is no '{name}'; choose one of {', '.join(materials)}")
    return materials[name]


def alloy_density(shares: Mapping[str, float], elements: Mapping[str, float] = ELEMENT_DENSITIES) -> float:
    """Density, g/cm3, of an alloy from its elements' ``shares`` of the mass, which sum to 1.

    1/rho = sum(w_i/rho_i): the volumes add up (ideal mixing). Against published tables it is within 0.5 % for
    tin-lead, 1 % for tin with copper, silver or zinc. Raises InputError for other elements and other sums.

    >>> round(alloy_density({"Sn": 0.3, "Pb": 0.7}), 2)
    9.72
    >>> alloy_density({"Sn": 1.0})
    7.29
    """
    unknown = sorted(set(shares) - set(elements))
    if unknown:
        raise InputError(f"alloy: no density is known for {', '.join(unknown)}; use {', '.join(elements)}")
    if not all(share >= 0 for share in shares.values()) or not math.isclose(sum(shares.values()), 1, abs_tol=1e-6):
        raise InputError(f"alloy: shares came as {dict(shares)}; shares of the mass are wanted, none below 0, 1 in all")
    return 1.0 / sum(share / elements[element] for element, share in shares.items())


def _read(path: Path) -> dict[str, dict[str, Any]]:
    """The file's materials as they are written, every field checked."""
    try:
        text = path.read_bytes().decode("utf-8-sig")  # some editors put a mark first, which tomllib refuses
        entries = tomllib.loads(text)
    except OSError as error:
        raise InputError(
            f"{path.name}: it can't be read ({error.strerror}); give a materials file, or leave it out"
        ) from error
    except ValueError as error:  # not UTF-8, not TOML, or a number of thousands of digits
        raise InputError(f"{path.name}: it is not a TOML text file ({error}); mend it there") from error
    for name, entry in entries.items():
        _check_entry(path.name, name, entry)
    return entries


def _check_entry(file: str, name: str, entry: Any) -> None:
    if not isinstance(entry, dict):
        raise InputError(f"{file}: '{name}' stands alone; put it below a name in brackets, such as [my-solder]")
    for key, value in entry.items():
        if key not in _FIELDS:
            raise InputError(f"{file}: material '{name}': there is no field '{key}'; use {', '.join(_FIELDS)}")
        fits, wanted = _FIELDS[key]
        if not fits(value):
            raise InputError(f"{file}: material '{name}': {key} came as {value!r}; {wanted} is wanted")


def _overlaid(ours: dict[str, Any], users: dict[str, Any], file: str) -> dict[str, Any]:
    """Our entry with the user's fields over it; a figure without a source of its own came from the user's file."""
    from_file = {key: f"the user's file {file}" for key in users if key in _FIGURES}
    return {**ours, **users, "source": {**ours.get("source", {}), **from_file, **users.get("source", {})}}


def _material(name: str, entry: dict[str, Any], file: str) -> Material:
    missing = [key for key in _FIELDS if key not in entry and key not in _MAY_BE_LEFT_OUT]
    if missing:
        raise InputError(
            f"{file}: material '{name}': {missing[0]} is missing; {_FIELDS[missing[0]][1]} is wanted"
        )
    figures: dict[str, Any] = {key: float(entry[key]) for key in _FIGURES if key in entry}
    words = {key: entry[key] for key in ("title", "kind", "holds_lead", "pack_word")}
    return Material(
        name=name,
        cautions=cautions_for(entry["kind"], entry["holds_lead"], entry.get("cautions", ())),
        source=entry.get("source", {}),
        **words,
        **figures,
    )
