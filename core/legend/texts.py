"""Texts where there is little room."""

from __future__ import annotations


def cut_short(text: str, most: int) -> str:
    """``text``, or as much of it as ``most`` letters hold, the last of which then says that there is more.

    >>> cut_short("tailgate shape", 9), cut_short("tailgate", 9)
    ('tailgate…', 'tailgate')
    """
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
