"""Everything that core raises on purpose: one root, a child for each cause.

A message is one plain sentence that says what came, what is wanted and what to do.
"""

from __future__ import annotations


class FillwrightError(Exception):
    """Root of all errors that a user may be shown as they are."""


class InputError(FillwrightError):
    """A file, a mesh or a setting that can't be used as it is."""


class WrongValue(InputError):
    """A value of what is asked for makes no sense; ``name``: the value's, as a request has it, by which whoever shows
    the sentence can say what it is called there."""

    def __init__(self, name: str, sentence: str) -> None:
        super().__init__(sentence)
        self.name = name


class NoOverlapError(FillwrightError):
    """Panel and finished shape do not lie on one another."""


class OutputError(FillwrightError):
    """The results could not be written; nothing half-written is left."""


class Cancelled(FillwrightError):
    """The user stopped the work; nothing was written."""
