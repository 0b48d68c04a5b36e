"""Build the extension's zips, one a platform and Python line, and a repository that Blender can add by address.

    python .ci/extension.py                                        all of them, checked, with index.json, into dist/
    python .ci/extension.py --python 3.13 --platform linux-x64     only this one, quickly, into dist/

Wheels are those pinned in pyproject.toml's group ``core`` except numpy, which Blender brings. They come by name from
the package registry, once, into dist/wheels. The same files in give the same bytes out. The check is Blender's own and
comes with the bpy package: run this with a Python that has it (``make extension`` does).
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from extension_wheels import DIST, PLATFORMS, ROOT, BuildError, wheels

SAMPLE = ("tailgate_scan.ply", "tailgate_shape.stl", "bonnet_scan.glb")
RUNTIME = {".py", ".toml"}  # kinds of file in addon/ and core/ that ship; any other stops the build until it is decided


@dataclass(frozen=True)
class Line:
    """Blenders of one Python: the oldest, the first that is too new, and how people are told."""

    python: str
    oldest: str
    too_new: str | None
    words: str


# Distributions build Blender 4.3 with Python 3.13: their zip is the newer line's. Blender tells the two apart by the
# Python of the wheels (cp311, cp313) before it looks at versions.
LINES = (
    Line("3.11", "4.5.0", "5.1.0", "blender-4.5-to-5.0"),
    Line("3.13", "4.3.0", None, "blender-5.1-and-later"),
)
NOT_MADE = {("3.13", "macos-x64")}  # 4.5 is the last Blender for Intel Macs (from memory)


def files() -> Iterator[tuple[str, Path]]:
    """What ships beside manifest and wheels: name in the zip, and the file."""
    for name in ("__init__.py", "LICENSE", *(f"sample_meshes/{name}" for name in SAMPLE)):
        yield name, ROOT / name
    for room in ("addon", "core"):
        for path in sorted((ROOT / room).rglob("*")):
            parts = path.relative_to(ROOT).parts
            if path.is_dir() or "__pycache__" in parts or any(part.startswith(".") for part in parts):
                continue
            if path.suffix not in RUNTIME:
                raise BuildError(f"{'/'.join(parts)}: say in .ci/extension.py whether files like it ship")
            yield "/".join(parts), path


def manifest(line: Line, platform: str, found: list[Path]) -> str:
    """The manifest of one zip: the tree's, with its Blenders, its platform and its wheels."""
    text = (ROOT / "blender_manifest.toml").read_text(encoding="utf-8")
    lines = [f'blender_version_min = "{line.oldest}"']
    if line.too_new is not None:
        lines.append(f'blender_version_max = "{line.too_new}"')
    lines.append(f'platforms = ["{platform}"]')
    lines += ["wheels = [", *(f'    "./wheels/{wheel.name}",' for wheel in found), "]"]
    built, count = re.subn(r"^blender_version_min = .*$", "\n".join(lines), text, flags=re.MULTILINE)
    if count != 1:
        raise BuildError("blender_manifest.toml: one line blender_version_min is wanted")
    tomllib.loads(built)
    return built


def version() -> str:
    """The version, which manifest and pyproject must agree on."""
    own = tomllib.loads((ROOT / "blender_manifest.toml").read_text(encoding="utf-8"))["version"]
    other = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    if own != other:
        raise BuildError(f"blender_manifest.toml says version {own}, pyproject.toml {other}; make them the same")
    return str(own)


def zip_name(line: Line, platform: str) -> str:
    """The zip's name, for people."""
    return f"fillwright-{version()}-{line.words}-{platform}.zip"


def build(line: Line, platform: str) -> Path:
    """One zip in dist/, written whole or not at all."""
    found = wheels(line.python, platform)
    others = [[each.python, where, zip_name(each, where)] for each, where in every()]
    built_for = {"python": line.python, "platform": platform, "zips": others}
    contents = {name: path.read_bytes() for name, path in files()}
    contents["blender_manifest.toml"] = manifest(line, platform, found).encode()
    contents["addon/built_for.json"] = json.dumps(built_for, indent=1).encode()
    contents |= {f"wheels/{wheel.name}": wheel.read_bytes() for wheel in found}
    place = DIST / zip_name(line, platform)
    unfinished = DIST / f".{place.name}.{os.getpid()}"
    with zipfile.ZipFile(unfinished, "w") as archive:
        for name in sorted(contents):
            archive.writestr(_entry(name), contents[name])
    unfinished.replace(place)
    return place


def _entry(name: str) -> zipfile.ZipInfo:
    """A name with a fixed date and mode, stored as it is: packed bytes would differ between versions of zlib."""
    entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    entry.create_system = 3
    entry.external_attr = 0o100644 << 16
    return entry


def every() -> list[tuple[Line, str]]:
    """All zips that are made: Python line and platform."""
    return [(line, platform) for line in LINES for platform in PLATFORMS if (line.python, platform) not in NOT_MADE]


def blenders_own(words: list[str]) -> None:
    """Have Blender's own extension tool do ``words``; anything that it minds stops the build."""
    done = subprocess.run(
        [sys.executable, str(in_blender("bl_pkg/cli/blender_ext.py")), *words],
        capture_output=True, text=True, check=False,
    )
    said = done.stdout + done.stderr
    if done.returncode != 0 or re.search("error|warn", said, re.IGNORECASE):
        raise BuildError(f"Blender refuses {' '.join(words)}: {said.strip()}")


def in_blender(ending: str) -> Path:
    """A file of the bpy package, which is looked for and not loaded."""
    package = importlib.util.find_spec("bpy")
    found = sorted(Path(package.origin).parent.rglob(ending)) if package and package.origin else []
    if not found:
        raise BuildError("Blender's check comes with the bpy package and this Python has none; run: make extension")
    return found[0]


def check(place: Path) -> None:
    """Blender's own check of a zip, its list of tags included."""
    blenders_own(["validate", f"--valid-tags={in_blender('extensions/tags.py')}", str(place)])


def index(places: list[Path]) -> None:
    """dist/index.json over these zips and no others: a repository for Blender, at file://.../dist/index.json."""
    for old in DIST.glob("fillwright-*.zip"):
        if old not in places:
            old.unlink()
    blenders_own(["server-generate", f"--repo-dir={DIST}"])
    path = DIST / "index.json"
    listed = json.loads(path.read_text(encoding="utf-8"))
    listed["data"].sort(key=lambda item: item["archive_url"])
    if len(listed["data"]) != len(places):
        raise BuildError(f"the index lists {len(listed['data'])} of {len(places)} zips")
    path.write_text(json.dumps(listed, indent=2) + "\n", encoding="utf-8")


def main() -> int:
    """All zips with their index, or the one that is asked for; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--python", choices=[line.python for line in LINES])
    parser.add_argument("--platform", choices=sorted(PLATFORMS))
    asked = parser.parse_args()
    chosen = [(line, platform) for line, platform in every()
              if asked.python in (None, line.python) and asked.platform in (None, platform)]
    DIST.mkdir(exist_ok=True)
    try:
        if not chosen:
            raise BuildError(f"no zip is made for Python {asked.python} on {asked.platform}")
        places = [build(line, platform) for line, platform in chosen]
        if len(chosen) == len(every()):
            for place in places:
                check(place)
            index(places)
    except BuildError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    sys.stdout.writelines(f"{place}\n" for place in places)
    return 0


if __name__ == "__main__":
    sys.exit(main())
