"""What is done with a high, by what the panel was when it was scanned: only bare metal is ever hammered."""

from __future__ import annotations

from ..settings import SURFACES

# For a table's column; and after "Highs 2.1 cm3, ". DOUBT: planned as bare, but it looks laid.
DOUBT = "doubt"
_SHORT = {
    "bare": "tap down or shrink", "laid": "file down", "primed": "block down", DOUBT: "bare or laid?",
}
_SENTENCE = {
    "bare": "to be tapped down or shrunk first",
    "laid": "left to file; what is laid is never hammered",
    "primed": "to be blocked down by hand, never hammered",
    DOUBT: "bare or laid? Only bare metal is worked with the hammer: see the warnings",
}
assert set(_SHORT) == set(_SENTENCE) == {*SURFACES, DOUBT}


def comes_off(surface: str) -> str:
    """What stands before "bring the metal up": nothing that was laid is hammered.

    >>> comes_off("laid"), comes_off("bare")
    ('take off what lies there, then ', '')
    """
    return "" if surface == "bare" else "take off what lies there, then "


def high_work(surface: str, doubted: bool = False) -> str:
    """What to do with a high, in two or three words; ``doubted``: it looks laid although it was planned as bare.

    >>> high_work("bare"), high_work("laid"), high_work("bare", doubted=True), high_work("laid", doubted=True)
    ('tap down or shrink', 'file down', 'bare or laid?', 'file down')
    """
    return _SHORT[DOUBT if doubted and surface == "bare" else surface]


def highs_work(surface: str, doubted: bool = False) -> str:
    """The same of all highs, to stand behind their volume.

    >>> highs_work("primed")
    'to be blocked down by hand, never hammered'
    """
    return _SENTENCE[DOUBT if doubted and surface == "bare" else surface]
