"""Every example in core's docstrings runs and gives what it says."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import core

FLAGS = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS
MODULES = [m.name for m in pkgutil.walk_packages(core.__path__, "core.") if not m.name.endswith("__main__")]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name), optionflags=FLAGS)
    assert result.failed == 0


def test_there_are_examples() -> None:
    """Guards the test above against finding nothing to run."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    examples = sum(len(t.examples) for name in MODULES for t in finder.find(importlib.import_module(name)))
    assert examples > 50
