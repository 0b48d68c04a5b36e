"""Draw the sample's plan in Blender: ``python draw_map.py OUT LIBRARIES``, with a Python that has the bpy package.

Runs what ``blender --command fillwright plan`` runs, from this folder's parent, without installing anything into
anyone's Blender. LIBRARIES is the folder of core's own libraries. ``make demo`` calls it.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import sys
import tempfile
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SCAN, SHAPE = ROOT / "sample_meshes" / "tailgate_scan.ply", ROOT / "sample_meshes" / "tailgate_shape.stl"


@contextlib.contextmanager
def fillwright(libraries: str) -> Iterator[None]:
    """The extension, loaded from the tree and registered in a Blender that knows nothing of the user's; then taken out,
    since Blender as a module crashes at its end over what is still registered."""
    profile = tempfile.TemporaryDirectory(prefix="fillwright-")
    os.environ["BLENDER_USER_RESOURCES"] = profile.name
    sys.path.append(libraries)
    import bpy  # noqa: F401

    place = ROOT / "__init__.py"
    spec = importlib.util.spec_from_file_location("fillwright", place, submodule_search_locations=[str(ROOT)])
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["fillwright"] = module
    spec.loader.exec_module(module)
    module.register()
    try:
        yield
    finally:
        module.unregister()
        profile.cleanup()


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Without what Blender itself writes to the two streams; Python's own words are kept back as well."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = os.dup(1), os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        for stream in (1, 2):
            os.dup2(nowhere, stream)
        yield
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        for stream, own in zip((1, 2), kept, strict=True):
            os.dup2(own, stream)
            os.close(own)
        os.close(nowhere)


def draw(out: Path) -> int:
    """The sample planned and drawn into ``out``; the command's exit status."""
    command = import_module("fillwright.addon.command.command_line").command
    words = ["plan", str(SCAN), str(SHAPE), "--panel-unit", "mm", "--target-unit", "mm", "--out", str(out), "--quiet"]
    status: int = command(words)
    return status


def main(out: Path, libraries: str) -> int:
    with hushed(), fillwright(libraries):
        status = draw(out)
    if status == 0:
        pictures = ", ".join(path.name for path in sorted(out.glob("map*.png")))
        sys.stdout.write(f"Blender drew {out}/map.blend, {pictures}\n")
    else:
        sys.stdout.write(f"Blender could not draw the map (status {status}); the plan itself is in {out}\n")
    return status


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2]))
