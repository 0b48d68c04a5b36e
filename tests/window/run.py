"""The built extension in a real window of Blender: ``python -m tests.window.run``, or ``make window-test``.

BLENDER is the command that starts Blender 4.3 or later (several words are fine); without it ``blender`` is looked for.
Without a display, Xvfb is started in the same way. Pictures and result.json go to out/window/.
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
WIDTH, _, HEIGHT = os.environ.get("WINDOW_TEST_SIZE", "1600x1000").partition("x")
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


def drive(command: list[str], place: Path, display: str) -> int:
    """Start Blender with a fresh profile and let drive.py use it; its exit status."""
    given = {"DISPLAY": display, "BLENDER_USER_RESOURCES": str(OUT / "profile")}
    if "LIBGL_ALWAYS_SOFTWARE" not in os.environ and display != os.environ.get("DISPLAY"):
        given["LIBGL_ALWAYS_SOFTWARE"] = "1"
    if (OUT / "Xvfb_screen0").exists():
        given["FILLWRIGHT_SCREEN"] = str(OUT / "Xvfb_screen0")
    words = ["--factory-startup", "--no-window-focus", "-p", "0", "0", WIDTH, HEIGHT, "--enable-event-simulate"]
    script = ["--python", str(ROOT / "tests" / "window" / "drive.py"), "--", str(place), str(OUT)]
    with (OUT / "blender.log").open("wb") as log:
        process = subprocess.Popen([*command, *words, *script], env=os.environ | given, stdout=log, stderr=log, cwd="/")
        try:
            return process.wait(timeout=float(os.environ.get("WINDOW_TEST_SECONDS", "300")))
        except subprocess.TimeoutExpired:
            process.kill()
            return -1


def told(result: dict[str, Any]) -> None:
    """What was seen, for people."""
    for what in result.get("seen", ()):
        sys.stdout.write(f"  {what}\n")
    for name, value in result.items():
        if name not in ("seen", "error"):
            sys.stdout.write(f"{name}: {value}\n")
    if "error" in result:
        sys.stdout.write(result["error"])


def main() -> int:
    command = blender()
    if not command:
        sys.stderr.write(HOW)
        return 2
    shutil.rmtree(OUT, ignore_errors=True)
    (OUT / "profile").mkdir(parents=True)
    place = build(python_line(command))
    server, display = screen(command)
    try:
        status = drive(command, place, display)
    finally:
        if server is not None:
            server.terminate()
            server.wait()
    told(json.loads((OUT / "result.json").read_text(encoding="utf-8")) if (OUT / "result.json").exists() else {})
    sys.stdout.write(f"{'Right' if status == 0 else 'NOT right'}; pictures are in {OUT}\n")
    return 0 if status == 0 else 1


if __name__ == "__main__":
    sys.exit(main())
