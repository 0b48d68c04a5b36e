"""The built extension in a real window of Blender: ``python -m tests.window.run``, or ``make window-test``.

BLENDER is the command that starts Blender 4.3 or later (several words are fine); without it ``blender`` is looked for.
Without a display, Xvfb is started in the same way. Each of SCRIPTS, or those named as words, has a Blender of its own;
pictures and, for each, NAME.json and NAME.log go to out/window/.
"""

from __future__ import annotations

import json
import os
import shlex
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "out" / "window"
SCRIPTS = ("drive", "real_use", "random_steps")
WIDTH, _, HEIGHT = os.environ.get("WINDOW_TEST_SIZE", "1600x1000").partition("x")
SMALL = ("900", "640")  # where nothing is looked at: software drawing takes its time by the pixel
HOW = """No Blender with a window was found. To get one:
- install Blender 4.5 or later from its own site or store, or 4.3.2 with Xvfb on Debian 13: apt install blender xvfb
- then: BLENDER=/path/to/blender make window-test
"""
_LINE = "import sys, bpy; print('LINE', '%d.%d' % sys.version_info[:2], bpy.app.version_string)"


def blender() -> list[str]:
    """The command that starts Blender; nothing where there is none."""
    named = shlex.split(os.environ.get("BLENDER", ""))
    found = shutil.which("blender")
    return named or ([found] if found else [])


def python_line(command: list[str]) -> str:
    """The Python line inside, such as 3.13."""
    done = subprocess.run(
        [*command, "--background", "--factory-startup", "--python-expr", _LINE],
        capture_output=True, text=True, check=False, cwd="/",
    )
    lines = [line.split() for line in done.stdout.splitlines() if line.startswith("LINE ")]
    if not lines:
        raise SystemExit(f"{shlex.join(command)} does not start: {(done.stdout + done.stderr)[-500:]}")
    return lines[0][1]


def build(line: str) -> Path:
    """The zip for that line, on Linux."""
    words = [sys.executable, str(ROOT / ".ci" / "extension.py"), "--python", line, "--platform", "linux-x64"]
    return Path(subprocess.run(words, capture_output=True, text=True, check=True).stdout.splitlines()[-1])


def screen(command: list[str]) -> tuple[subprocess.Popen[bytes] | None, str]:
    """A display to draw on: the user's own, or one off screen."""
    if os.environ.get("DISPLAY"):
        return None, os.environ["DISPLAY"]
    number = next(n for n in range(90, 200) if not Path(f"/tmp/.X11-unix/X{n}").exists() and _is_free(n))
    words = [*command[:-1], "Xvfb", f":{number}", "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-nolisten", "tcp"]
    words += ["-fbdir", str(OUT)]  # look.py reads the screen there
    try:
        server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/")
    except FileNotFoundError:
        raise SystemExit("There is no display, and no Xvfb to make one: apt install xvfb") from None
    time.sleep(1.5)
    if server.poll() is not None:
        raise SystemExit(f"Xvfb did not start: {shlex.join(words)}")
    return server, f":{number}"


def _is_free(number: int) -> bool:
    """Whether no server listens there: Xvfb also listens without a file, in Linux's abstract names (unix(7))."""
    return f"@/tmp/.X11-unix/X{number}\n" not in Path("/proc/net/unix").read_text(encoding="utf-8")


def drive(command: list[str], place: Path, display: str, name: str) -> bool:
    """Start Blender with a fresh profile and let a script use it; whether all was right and nothing broke off."""
    given = {"DISPLAY": display, "BLENDER_USER_RESOURCES": str(OUT / "profile" / name)}
    if "LIBGL_ALWAYS_SOFTWARE" not in os.environ and display != os.environ.get("DISPLAY"):
        given["LIBGL_ALWAYS_SOFTWARE"] = "1"
    if (OUT / "Xvfb_screen0").exists():
        given["FILLWRIGHT_SCREEN"] = str(OUT / "Xvfb_screen0")
    log = OUT / f"{name}.log"
    given["FILLWRIGHT_LOG"] = str(log)
    size = SMALL if name == "random_steps" else (WIDTH, HEIGHT)
    words = ["--factory-startup", "--no-window-focus", "-p", "0", "0", *size, "--enable-event-simulate"]
    script = ["--python", str(ROOT / "tests" / "window" / f"{name}.py"), "--", str(place), str(OUT), name]
    with log.open("wb") as said:
        words = [*command, *words, *script]
        process = subprocess.Popen(words, env=os.environ | given, stdout=said, stderr=said, cwd="/")
        try:
            status = process.wait(timeout=_seconds())
        except subprocess.TimeoutExpired:
            process.kill()
            status = -1
    told(name, status)
    return status == 0 and not broken_off(log)


def _seconds() -> float:
    """After so long a script is taken to hang: three seconds a random step, and no less than five minutes."""
    return float(os.environ.get("WINDOW_TEST_SECONDS", max(300.0, 3.0 * float(os.environ.get("RANDOM_STEPS", "0")))))


def broken_off(log: Path) -> str:
    """What Blender wrote from the first traceback on: of a draw handler, a timer or an operator; nothing is right."""
    _, found, rest = log.read_text(encoding="utf-8", errors="replace").partition("Traceback (most recent call last)")
    return found + rest


def told(name: str, status: int) -> None:
    """What was seen, for people."""
    path = OUT / f"{name}.json"
    result: dict[str, Any] = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    sys.stdout.write(f"{name}, status {status}\n")
    for what in result.get("seen", ()):
        sys.stdout.write(f"  {what}\n")
    for key, value in result.items():
        if key not in ("seen", "error"):
            sys.stdout.write(f"{key}: {value}\n")
    sys.stdout.write(result.get("error", "") or broken_off(OUT / f"{name}.log"))


def main() -> int:
    command = blender()
    if not command:
        sys.stderr.write(HOW)
        return 2
    names = sys.argv[1:] or SCRIPTS
    shutil.rmtree(OUT, ignore_errors=True)
    (OUT / "profile").mkdir(parents=True)
    place = build(python_line(command))
    server, display = screen(command)
    try:
        wrong = [name for name in names if not drive(command, place, display, name)]
    finally:
        if server is not None:
            server.terminate()
            server.wait()
    sys.stdout.write(f"{'NOT right: ' + ', '.join(wrong) if wrong else 'Right'}; pictures are in {OUT}\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
