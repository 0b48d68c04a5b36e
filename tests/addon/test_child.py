"""What goes wrong in the child or around it: one plain sentence, nothing changed, nothing left over."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bpy
import pytest

from tests.addon.conftest import TEMPORARY, part, refused
from tests.addon.scenes import Scene, everything


@pytest.fixture(autouse=True)
def nothing_changes(plate: Scene) -> Any:
    """Each test here ends with the file as it was before, no folder left, and a plan that still works."""
    before = everything()
    yield
    assert everything() == before
    assert list(TEMPORARY.glob("fillwright-*")) == []
    assert not bpy.context.window_manager.fillwright_running
    assert bpy.ops.fillwright.plan() == {"FINISHED"}


def when_started(monkeypatch: pytest.MonkeyPatch, then: Callable[[Any], None]) -> None:
    """Have ``then`` done to each child as soon as it has started."""
    kind = part("addon.child.running").Child
    start = kind.start

    def start_and_then(child: Any, job: str) -> None:
        start(child, job)
        then(child)

    monkeypatch.setattr(kind, "start", start_and_then)


def in_its_place(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, code: str) -> None:
    """Start a script with ``code`` where core's child/answer.py would be started."""
    (tmp_path / "core" / "child").mkdir(parents=True)
    (tmp_path / "core" / "child" / "answer.py").write_text(code, encoding="utf-8")
    monkeypatch.setattr(part("addon.child.running"), "ROOT", tmp_path)


def test_killed_half_way(monkeypatch: pytest.MonkeyPatch) -> None:
    killed_at: list[float] = []

    def kill_when_it_works(child: Any) -> None:
        def watch() -> None:
            while child.share < 0.2 and child._process.poll() is None:
                child.poll()
                stop.wait(0.01)
            killed_at.append(child.share)
            child._process.kill()

        stop = threading.Event()
        threading.Thread(target=watch).start()

    when_started(monkeypatch, kill_when_it_works)
    said = refused(bpy.ops.fillwright.plan)
    monkeypatch.undo()
    assert 0.2 <= killed_at[0] < 1.0, "it was to be half-way"
    assert "ended without a word" in said


def test_a_crash_of_compiled_code_ends_the_child_only(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    in_its_place(monkeypatch, tmp_path, "import os\nprint('0.5\\tHalf-way', flush=True)\nos.abort()\n")
    said = refused(bpy.ops.fillwright.plan)
    monkeypatch.undo()
    assert "ended without a word" in said


def test_words_of_a_library_are_no_progress(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    said = "some library: hello\\n\\n0.5\\tHalf-way\\n"
    code = f"import sys\nprint('{said}')\nsys.stderr.write('a sentence\\n')\nsys.exit(2)\n"
    in_its_place(monkeypatch, tmp_path, code)
    assert refused(bpy.ops.fillwright.plan) == "a sentence"
    monkeypatch.undo()


def test_an_answer_that_is_missing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A child that says all is well and leaves nothing."""
    in_its_place(monkeypatch, tmp_path, "")
    assert len(refused(bpy.ops.fillwright.plan)) > 20
    monkeypatch.undo()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="/dev/full is Linux's own full disk (full(4))")
@pytest.mark.parametrize("name", ["answer.npz", "answer.json"])
def test_full_disk_while_the_answer_is_written(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    when_laid_out(monkeypatch, lambda folder: (folder / name).symlink_to("/dev/full"))
    said = refused(bpy.ops.fillwright.plan)
    monkeypatch.undo()
    assert os.strerror(28) in said  # ENOSPC


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="/dev/full is Linux's own full disk (full(4))")
@pytest.mark.filterwarnings("ignore:.*ZipFile.__del__")  # numpy's savez leaves its zip file open when a write fails
@pytest.mark.parametrize("name", ["request.npz", "request.json"])
def test_full_disk_while_the_meshes_are_written(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    kind = part("addon.child.running").Child
    begin = kind.__init__

    def begin_full(child: Any) -> None:
        begin(child)
        (child.folder / name).symlink_to("/dev/full")

    monkeypatch.setattr(kind, "__init__", begin_full)
    said = refused(bpy.ops.fillwright.plan)
    monkeypatch.undo()
    assert os.strerror(28) in said


def when_laid_out(monkeypatch: pytest.MonkeyPatch, then: Callable[[Path], None]) -> None:
    """Have ``then`` done to the child's folder just before the child starts."""
    kind = part("addon.child.running").Child
    start = kind.start

    def then_start(child: Any, job: str) -> None:
        then(child.folder)
        start(child, job)

    monkeypatch.setattr(kind, "start", then_start)


def test_the_words_for_bad_meshes_are_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """Panel and shape far apart: core's own sentence reaches the user."""
    before = bpy.context.scene.fillwright.target.location.x
    bpy.context.scene.fillwright.target.location.x = 5000.0
    bpy.context.view_layer.update()
    said = refused(bpy.ops.fillwright.plan)
    bpy.context.scene.fillwright.target.location.x = before
    bpy.context.view_layer.update()
    assert said.startswith("panel and finished shape do not lie on one another")


def test_what_a_killed_blender_left_is_swept_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Folders of a day ago and more; not a job's that runs now, nor a file, nor anybody else's."""
    running = part("addon.child.running")
    monkeypatch.setattr(running.tempfile, "gettempdir", lambda: str(tmp_path))
    day_ago = time.time() - 25 * 3600
    for name in ("fillwright-old", "fillwright-now", "somebody-old"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "panel.npz").write_bytes(b"x")
    (tmp_path / "fillwright-file").write_bytes(b"x")
    for name in ("fillwright-old", "somebody-old", "fillwright-file"):
        os.utime(tmp_path / name, (day_ago, day_ago))
    running.sweep()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["fillwright-file", "fillwright-now", "somebody-old"]
