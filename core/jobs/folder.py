"""A frozen dataclass as two files, of figures and of arrays, and back: so it crosses into another process. numpy only.

Fields may be numbers, texts, arrays, other dataclasses, and tuples of and texts' mappings to all of these.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import NoneType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from ..errors import OutputError

T = TypeVar("T")
Arrays = dict[str, NDArray[Any]]
_ARRAY = "array"


def leave(folder: Path, name: str, thing: object) -> None:
    """Leave ``thing`` in ``folder`` as NAME.json and NAME.npz; an OutputError where there is no room."""
    arrays: Arrays = {}
    figures = _packed(thing, arrays)
    try:
        np.savez(folder / f"{name}.npz", **arrays)
        (folder / f"{name}.json").write_text(json.dumps(figures), encoding="utf-8")
    except OSError as error:
        why = error.strerror or error
        raise OutputError(f"the temporary folder can't be written ({why}); make room, then try again") from error


def take(folder: Path, name: str, kind: type[T]) -> T:
    """What `leave` has left there; an OutputError where it can't be read."""
    try:
        figures = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        with np.load(folder / f"{name}.npz") as file:
            arrays = dict(file)
        found: T = _unpacked(figures, kind, arrays)
    except (OSError, ValueError, KeyError, TypeError, BadZipFile) as error:
        raise OutputError(f"the work left no {name} that can be read ({error}); try again") from error
    return found


def _packed(thing: Any, arrays: Arrays) -> Any:
    """``thing`` for JSON; its arrays go to ``arrays``, under numbers, for names may hold any letter."""
    if isinstance(thing, np.ndarray):
        arrays[str(len(arrays))] = thing
        return {_ARRAY: str(len(arrays) - 1)}
    if is_dataclass(thing):
        return {field.name: _packed(getattr(thing, field.name), arrays) for field in fields(thing)}
    if isinstance(thing, Mapping):
        return {name: _packed(one, arrays) for name, one in thing.items()}
    if isinstance(thing, tuple | list):
        return [_packed(one, arrays) for one in thing]
    return thing


def _unpacked(figures: Any, kind: Any, arrays: Arrays) -> Any:
    """``figures`` as the ``kind`` that the field's annotation names."""
    if figures is None:
        return None
    kinds = [one for one in get_args(kind) if one is not NoneType] if NoneType in get_args(kind) else [kind]
    kind, origin = kinds[0], get_origin(kinds[0])
    if origin is np.ndarray:
        return arrays[figures[_ARRAY]]
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        return kind(**{name: _unpacked(one, hints[name], arrays) for name, one in figures.items()})  # type: ignore[operator]
    if origin is tuple:
        return tuple(_unpacked(one, get_args(kind)[0], arrays) for one in figures)
    if origin in (dict, Mapping) or (isinstance(origin, type) and issubclass(origin, Mapping)):
        return {name: _unpacked(one, get_args(kind)[1], arrays) for name, one in figures.items()}
    return figures
