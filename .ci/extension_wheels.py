"""The wheels that a zip of the extension carries: what pyproject.toml pins for core, without what Blender brings."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from email.parser import HeaderParser
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DIST = ROOT / "dist"
BY_BLENDER = {"numpy"}  # all extensions share one place for wheels: a second numpy would break others

# Tags of wheels that run wherever Blender itself does: it needs glibc 2.28; macOS 12 is the oldest that scipy supports.
PLATFORMS = {
    "linux-x64": ("manylinux_2_28_x86_64", "manylinux_2_27_x86_64", "manylinux_2_17_x86_64", "manylinux2014_x86_64"),
    "macos-arm64": ("macosx_12_0_arm64",),
    "macos-x64": ("macosx_12_0_x86_64",),
    "windows-x64": ("win_amd64",),
}


class BuildError(Exception):
    """What stops the build, in one sentence."""


def pins() -> list[str]:
    """What pyproject.toml pins for core, without what Blender brings."""
    groups = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["dependency-groups"]
    found = [pin for pin in groups["core"] if isinstance(pin, str) and name_of(pin) not in BY_BLENDER]
    for pin in found:
        if not re.fullmatch(r"[A-Za-z0-9_.-]+==[0-9.]+", pin):
            raise BuildError(f"pyproject.toml, group core: {pin!r} came; name==version, the same for all, is wanted")
    return found


def name_of(requirement: str) -> str:
    """The package's name in a requirement, spelled the one way (PEP 503)."""
    return re.sub(r"[-_.]+", "-", re.split(r"[^A-Za-z0-9_.-]", requirement.strip(), maxsplit=1)[0]).lower()


def wheels(python: str, platform: str) -> list[Path]:
    """The wheels of one zip, fetched where dist/wheels does not hold just them."""
    folder, wanted = DIST / "wheels" / f"{python}-{platform}", pins()
    stems = sorted(f"{name_of(pin)}-{pin.partition('==')[2]}" for pin in wanted)
    found = sorted(folder.glob("*.whl"))
    if sorted(_stem(wheel) for wheel in found) != stems:
        _fetch(wanted, python, platform, folder)
        found = sorted(folder.glob("*.whl"))
    _check_needs(found)
    return found


def _stem(wheel: Path) -> str:
    name, version = wheel.name.split("-")[:2]
    return f"{name_of(name)}-{version}"


def _fetch(wanted: list[str], python: str, platform: str, folder: Path) -> None:
    tags = [word for tag in PLATFORMS[platform] for word in ("--platform", tag)]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
    kind = ["--only-binary=:all:", "--implementation", "cp", "--python-version", python, *tags]
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=DIST) as fetched:
        done = subprocess.run([*command, *kind, "--dest", fetched, *wanted], check=False)
        if done.returncode != 0:
            raise BuildError(f"the wheels for Python {python} on {platform} did not come; see pip's words above")
        _put(Path(fetched), folder)


def _put(fetched: Path, folder: Path) -> None:
    """Move wheels into their folder and clear out others; a wheel that was there is never away for a moment.

    Several builds run at once where the tests do, and each may have fetched the same wheels.
    """
    new = {wheel.name for wheel in fetched.iterdir()}
    for name in sorted(new):
        (fetched / name).replace(folder / name)
    for old in folder.glob("*.whl"):
        if old.name not in new:
            old.unlink(missing_ok=True)


def _check_needs(found: list[Path]) -> None:
    """Whatever a wheel needs must be in the zip too, or in Blender."""
    there = {_stem(wheel).rpartition("-")[0] for wheel in found} | BY_BLENDER
    for wheel in found:
        with zipfile.ZipFile(wheel) as archive:
            name = next(n for n in archive.namelist() if re.fullmatch(r"[^/]+\.dist-info/METADATA", n))
            needs = HeaderParser().parsestr(archive.read(name).decode()).get_all("Requires-Dist") or []
        missing = {name_of(need) for need in needs if "extra ==" not in need} - there
        if missing:
            raise BuildError(f"{wheel.name} needs {', '.join(sorted(missing))}: pin it in pyproject.toml's group core")
