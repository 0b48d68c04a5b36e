"""Sentences that name an option of the command line, in the words of Blender's sidebar instead."""

from __future__ import annotations

import re

# The longest first where one begins as another does.
_CONTROLS = {
    "--surface laid or primed": "Panel Is: Laid or Primed, under Set Out",
    "--surface laid": "Panel Is: Laid, under Set Out",
    "--panel-unit": "Unit under Set Out",
    "--target-unit": "Unit under Finished Shape",
    "--finish-mm": "Shape Was: Painted, under Finished Shape",
    "--line-up": "use Line Up",
}
_ANY = re.compile("|".join(map(re.escape, _CONTROLS)))


def in_window(sentence: str) -> str:
    """``sentence`` as Blender's window says it.

    >>> in_window("their units differ: state --panel-unit and --target-unit")
    'their units differ: state Unit under Set Out and Unit under Finished Shape'
    >>> in_window("the whole panel is marked as damaged")
    'the whole panel is marked as damaged'
    """
    return _ANY.sub(lambda found: _CONTROLS[found.group()], sentence)
