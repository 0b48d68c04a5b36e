"""How a package is built, read from its files' own syntax trees, so that nothing runs: which room imports which.

A room is a folder, or a file, that lies directly in the package.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class House:
    """A package's ``folder``, and the ``rank`` of each of its rooms: one may import those of lower rank, and itself."""

    folder: Path
    rank: Mapping[str, int]

    @property
    def files(self) -> list[Path]:
        """All its Python files."""
        return sorted(self.folder.rglob("*.py"))

    def room_of(self, path: Path) -> str:
        """The room that a file is in."""
        return path.relative_to(self.folder).with_suffix("").parts[0]

    def rooms_imported(self, tree: ast.AST, path: Path) -> Iterator[str]:
        """The room of each thing in the package that the file at ``path`` imports, wherever in the file it does so."""
        name = self.folder.name
        package = (name, *path.relative_to(self.folder).parent.parts)
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                yield from (one.name.split(".")[1] for one in node.names if one.name.startswith(f"{name}."))
            elif isinstance(node, ast.ImportFrom):
                if node.level > len(package):  # from beside the package
                    continue
                stem = package[: len(package) - node.level + 1] if node.level else ()
                parts = (*stem, *(node.module or "").split(".")) if node.module else stem
                if parts[0] == name:
                    yield from (parts[1] if len(parts) > 1 else one.name for one in node.names)

    def wrong_imports(self, text: str, path: Path) -> list[str]:
        """What a file with this ``text`` imports that it may not, in words."""
        room = self.room_of(path)
        return [
            f"{path.relative_to(self.folder.parent)} imports {other}"
            for other in self.rooms_imported(ast.parse(text), path)
            if other != room and self.rank[other] >= self.rank[room]
        ]


def names_used(tree: ast.AST) -> set[str]:
    """Every module imported (whole and by its parts), name and attribute."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            modules = [name.name for name in node.names]
        elif isinstance(node, ast.ImportFrom):
            modules = [node.module or "", *(name.name for name in node.names)]
        elif isinstance(node, ast.Attribute):
            modules = [node.attr]
        else:
            modules = [node.id] if isinstance(node, ast.Name) else []
        found.update(modules, *(module.split(".") for module in modules))
    return found
