"""Where a mesh came from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Source:
    """Where a mesh came from: its ``file``, ``sha256``, ``unit`` and the sentence about the unit."""

    file: str = ""
    sha256: str = ""
    unit: str = "mm"
    unit_note: str = ""
