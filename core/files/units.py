"""Which unit a file is in: stated by the user, fixed by its format, or mm if the size allows it; always said."""

from __future__ import annotations

from ..errors import InputError

# An inch is 25.4 mm exactly (NIST Special Publication 811, 2008, appendix B).
MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
_OTHER_NAMES = {"inch": "in", "inches": "in", '"': "in"}
# Smaller than a palm or longer than a coach: no panel in mm (common practice, no source).
PLAUSIBLE_MM = (50.0, 20_000.0)


def known_unit(unit: str, name: str) -> str:
    """``unit`` as mm, cm, m or in; an InputError that lists them for anything else. "inch" is taken as in.

    >>> known_unit("Inch", "panel")
    'in'
    >>> known_unit("furlong", "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel: the unit 'furlong' is not known; use mm, cm, m or in
    """
    short = unit.strip().lower()
    short = _OTHER_NAMES.get(short, short)
    if short not in MM_PER_UNIT:
        raise InputError(f"{name}: the unit '{unit}' is not known; use mm, cm, m or in")
    return short


def chosen_unit(stated: str | None, fixed: str | None, diagonal: float, name: str) -> tuple[str, str]:
    """The unit of a mesh, and one sentence that says how it was chosen.

    ``stated`` is the user's (None: none), ``fixed`` the format's (None: it has none), ``diagonal`` that
    of the box around the mesh, in the file's own unit. The user's word goes before the format's.
    An InputError where neither is there and the mesh would not be a panel's size in mm.

    >>> chosen_unit(None, None, 1200.0, "panel")
    ('mm', 'panel: taken as mm, as its size of 1.2 m allows; state the unit if it is another')
    >>> chosen_unit("in", None, 1.0, "panel")[1]
    'panel: in, as stated; but that makes it 25.4 mm from corner to corner, no size for a panel: check the unit'
    >>> chosen_unit(None, None, 0.0, "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel: its unit is not known; from corner to corner it would be 0 mm if the file ...
    """
    if stated is None and fixed is None:
        return _assumed(diagonal, name)
    unit = known_unit(stated, name) if stated is not None else str(fixed)
    how = "as stated" if stated is not None else "as its format always is"
    if stated is not None and fixed is not None and unit != fixed:
        how += f", although its format is always in {fixed}"
    size = diagonal * MM_PER_UNIT[unit]
    if _plausible(size):
        return unit, f"{name}: {unit}, {how}; {_length(size)} from corner to corner"
    return unit, (
        f"{name}: {unit}, {how}; but that makes it {_length(size)} from corner to corner, "
        "no size for a panel: check the unit"
    )


def _assumed(diagonal: float, name: str) -> tuple[str, str]:
    if _plausible(diagonal):
        return "mm", f"{name}: taken as mm, as its size of {_length(diagonal)} allows; state the unit if it is another"
    sizes = [f"{_length(diagonal * scale)} if the file is in {unit}" for unit, scale in MM_PER_UNIT.items()]
    raise InputError(
        f"{name}: its unit is not known; from corner to corner it would be {', '.join(sizes[:-1])} or {sizes[-1]}; "
        "state it with --panel-unit or --target-unit"
    )


def _plausible(diagonal_mm: float) -> bool:
    return PLAUSIBLE_MM[0] <= diagonal_mm <= PLAUSIBLE_MM[1]


def _length(mm: float) -> str:
    """A length for reading: three figures, in mm below a metre, else in m.

    >>> _length(0.5), _length(25.4), _length(1234.0), _length(5e6)
    ('0.5 mm', '25.4 mm', '1.23 m', '5 000 m')
    """
    number, unit = (mm, "mm") if mm < 1000 else (mm / 1000, "m")
    return (f"{number:.3g}" if number < 1000 else f"{number:,.0f}".replace(",", " ")) + f" {unit}"
