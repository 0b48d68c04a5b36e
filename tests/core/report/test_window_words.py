"""Whatever core says with an option of the command line in it has words of the window, and those are on its screen."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from core.report.window_words import _CONTROLS, in_window

ROOT = Path(__file__).parents[3]
OWN = ("commands", "child")  # what is said on the command line only
OPTION = re.compile(r"--[a-z][a-z-]+")


def sentences() -> Iterator[str]:
    """All texts in core with an option in them, but for docstrings."""
    for path in sorted((ROOT / "core").rglob("*.py")):
        room = path.relative_to(ROOT / "core").parts[0]
        if room in OWN or path.name in ("__main__.py", "window_words.py"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            text = isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told
            if text and OPTION.search(node.value):
                yield node.value


def test_there_are_such_sentences() -> None:
    assert len(list(sentences())) >= 5


@pytest.mark.parametrize("sentence", sorted(set(sentences())))
def test_no_option_is_left(sentence: str) -> None:
    assert not OPTION.search(in_window(sentence, "mm"))


def test_the_controls_are_in_the_sidebar() -> None:
    """Each label, and the panel that it is said to be under, is one that the add-on shows."""
    addon = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "addon").rglob("*.py"))
    for words in _CONTROLS.values():
        control, _, panel = words.removeprefix("use ").partition(" under ")
        label, _, choices = control.rstrip(",").partition(": ")
        names = [label, *filter(None, re.split(" or |, ", choices)), *filter(None, [panel])]
        for name in names:
            assert f'"{name}"' in addon, name
