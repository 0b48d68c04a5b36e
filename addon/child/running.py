"""The work in a process of its own: started, heard, stopped. Knows nothing of scenes.

libigl holds Python's lock while it works and would freeze the window; and on Windows a library that is
loaded in Blender's own process can't be updated or removed.
"""

from __future__ import annotations

import queue
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path

import bpy

from ..names.package import ROOT

_PREFIX, _OLD_S = "fillwright-", 24 * 3600.0


class Child:
    """One run of core's child/answer.py on a folder of its own."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix=_PREFIX))
        self.share, self.step = 0.0, "Starting"
        self._process: subprocess.Popen[str] | None = None
        self._listener: threading.Thread | None = None
        self._lines: queue.Queue[str] = queue.Queue()

    def start(self, job: str) -> None:
        """Start a job on what lies in the folder by now."""
        script = ROOT / "core" / "child" / "answer.py"
        words = [sys.executable, *bpy.app.python_args, str(script), str(self.folder), job, str(ROOT), *libraries()]
        hidden = {"creationflags": subprocess.CREATE_NO_WINDOW} if sys.platform == "win32" else {}
        errors = (self.folder / "errors.txt").open("w", encoding="utf-8")
        self._process = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=errors, stdin=subprocess.DEVNULL, text=True, encoding="utf-8",
            cwd=self.folder, **hidden,
        )
        errors.close()
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        assert self._process is not None
        assert self._process.stdout is not None
        with self._process.stdout as said:
            for line in said:
                self._lines.put(line)

    def poll(self) -> int | None:
        """Take in what it has said; its exit status, or None while it works."""
        assert self._process is not None
        while not self._lines.empty():
            share, _, step = self._lines.get().strip().partition("\t")
            try:
                self.share, self.step = float(share), step
            except ValueError:
                continue  # a library's own words
        return self._process.poll()

    def wait(self) -> int:
        """Wait until it ends; its exit status."""
        assert self._process is not None
        status = self._process.wait()
        self.poll()
        return status

    def error(self) -> str:
        """What it said went wrong, in one sentence."""
        said = (self.folder / "errors.txt").read_text(encoding="utf-8", errors="replace").strip()
        if not said:
            return "the work ended without a word; try a smaller mesh, and tell us if it happens again"
        last = said.splitlines()[-1]
        if "Traceback" in said:
            return f"the work broke off, and not for anything you did; please tell us: {last}"
        return last

    def stop(self) -> None:
        """End it, whatever it does."""
        if self._process is not None and self._process.poll() is None:
            self._process.kill()
            self._process.wait()

    def clear(self) -> None:
        """Stop it and remove its folder."""
        self.stop()
        if self._listener is not None:
            self._listener.join(timeout=1.0)
        shutil.rmtree(self.folder, ignore_errors=True)


def sweep() -> None:
    """Remove what a Blender that was killed has left behind: folders of ours that nothing has touched for a day."""
    for folder in Path(tempfile.gettempdir()).glob(f"{_PREFIX}*"):
        with suppress(OSError):  # another user's, or gone meanwhile
            if folder.is_dir() and not folder.is_symlink() and time.time() - folder.stat().st_mtime > _OLD_S:
                shutil.rmtree(folder, ignore_errors=True)


def register() -> None:
    sweep()


def libraries() -> list[str]:
    """Where this Python finds libraries: the child is started apart from the user's environment and must be told."""
    return [path for path in sys.path if path.rstrip("/\\").endswith(("site-packages", "dist-packages"))]
