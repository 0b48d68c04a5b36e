"""Whether the zip that was installed is the one for this Blender and this computer."""

from __future__ import annotations

import json
import platform
import sys
import sysconfig
from pathlib import Path

# Beside this file in a built zip: the Python line and platform that its wheels are for, and all zips that are made,
# as [python, platform, name]. The tree itself has none and goes anywhere.
BUILT_FOR = Path(__file__).with_name("built_for.json")
_SYSTEMS = {"linux": "linux", "win": "windows", "macosx": "macos"}
_MACHINES = {"x86_64": "x64", "amd64": "x64", "aarch64": "arm64"}


class WrongZipError(Exception):
    """Another zip is wanted; one sentence that names it."""


def check() -> None:
    """Raise WrongZipError where the wheels inside can't be loaded by this Blender."""
    if BUILT_FOR.exists():
        sentence = wrong(json.loads(BUILT_FOR.read_text(encoding="utf-8")), this_python(), this_platform())
        if sentence is not None:
            raise WrongZipError(sentence)


def wrong(built_for: dict[str, object], python: str, computer: str) -> str | None:
    """What to take instead, in one sentence, or None where the zip is right.

    >>> mine = {"python": "3.11", "platform": "linux-x64", "zips": [["3.13", "linux-x64", "new.zip"]]}
    >>> wrong(mine, "3.11", "linux-x64")
    >>> wrong(mine, "3.13", "linux-x64")[-50:]
    'and this is Python 3.13 on linux-x64: take new.zip'
    >>> wrong(mine, "3.14", "linux-x64")[-63:]
    'this is Python 3.14 on linux-x64, which there is no zip for yet'
    """
    if (built_for["python"], built_for["platform"]) == (python, computer):
        return None
    zips = built_for["zips"]
    assert isinstance(zips, list)
    right = [name for line, where, name in zips if (line, where) == (python, computer)]
    return (
        f"this zip of Fillwright is for Blender with Python {built_for['python']} on {built_for['platform']}, and this "
        f"is Python {python} on {computer}{f': take {right[0]}' if right else ', which there is no zip for yet'}"
    )


def this_python() -> str:
    """The Python line that runs, as 3.13."""
    return f"{sys.version_info.major}.{sys.version_info.minor}"


def this_platform() -> str:
    """The platform that this Python was built for, as linux-x64; the computer's own may differ under emulation."""
    system, _, machine = sysconfig.get_platform().partition("-")
    machine = machine.rpartition("-")[2].lower()
    if machine == "universal2":
        machine = platform.machine().lower()
    return f"{_SYSTEMS.get(system, system)}-{_MACHINES.get(machine, machine)}"
