"""What people read says the workshop's words; the code's own words stay in the code."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from core.__main__ import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
FILES = sorted([*ROOT.glob("core/**/*.py"), *ROOT.glob("addon/**/*.py")])

# The code's word and the workshop's; by agreement, no source.
WORDS = {
    r"judged": "measured",
    r"\brims?\b": "edge",
    r"high metal": "highs",
    r"mind this": "Safety",
    r"\bheld in\b|\bdirections held\b": "can't slide",
    r"\bslides? else\b": "slides otherwise",
    r"\d vert(ex|ices)|\{[^}]*\} points (?!came|are not finite)": "an area in cm2",
    r"\bit holds lead\b": "this solder contains lead",
    r"new metal": "rough it out first, then scan again",
    r"divided by 6": "the spacing of bumps",
}
# What is no sentence of ours: a field of a PLY file, a name that a Python caller gives.
CODE = re.compile(r"^[a-z_0-9.]+$|^legend: |^(element|property) ")
# Names and rows of the user's own file, where counts are what is asked for.
OF_FILES = ("surface/", "place/motion.py", "place/onto.py")


def sentences(path: Path) -> Iterator[str]:
    """Every text of a file that may be read by people: literals of more than a name, no docstring."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    bodies = (n for n in ast.walk(tree) if isinstance(n, ast.Module | ast.ClassDef | ast.FunctionDef))
    docs = {id(n.body[0].value) for n in bodies if n.body and isinstance(n.body[0], ast.Expr)}
    parts = {id(v) for n in ast.walk(tree) if isinstance(n, ast.JoinedStr) for v in n.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(v.value if isinstance(v, ast.Constant) else "{…}" for v in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and not {id(node)} & (docs | parts):
            yield node.value


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_screen_says_the_codes_own_word(path: Path) -> None:
    of_files = any(part in path.as_posix() for part in OF_FILES)
    for text in sentences(path):
        if CODE.search(text):
            continue
        for word, better in WORDS.items():
            if of_files and better == "an area in cm2":
                continue
            assert not re.search(word, text, re.IGNORECASE), f"{path.name}: {text!r}: say {better!r}"


def test_no_screen_names_a_class_of_the_code() -> None:
    """A name changed throughout the code can change a sentence with it."""
    classes = {node.name for path in FILES for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
               if isinstance(node, ast.ClassDef)}
    own = {name for name in classes if re.search(r"[a-z][A-Z]", name)}
    assert "MeshFile" in own
    said = [(path.name, text) for path in FILES for text in sentences(path)
            if " " in text and own & set(re.findall(r"\w+", text))]
    assert not said


def test_the_scanners_test_is_called_so() -> None:
    assert "test-scanner" in COMMANDS
    assert "trust" not in COMMANDS
    assert COMMANDS["test-scanner"]().DESCRIPTION.startswith("Test the Scanner:")
