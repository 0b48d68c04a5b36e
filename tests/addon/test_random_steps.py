"""Random steps in Blender without a window: the same as in the window, but for keys, clicks and what Esc stops."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from tests.addon.conftest import TEMPORARY
from tests.random_use.go import go, seeded
from tests.random_use.world import World

STEPS = int(os.environ.get("RANDOM_STEPS", "60"))
SEED = int(os.environ.get("RANDOM_SEED", "1"))


def test_random_steps_break_no_law(tmp_path: Path) -> None:
    told: dict[str, Any] = {}
    for _wait in go(World(tmp_path, seeded(SEED)), STEPS, told):
        pass
    assert sum(told["steps"].values()) == STEPS
    assert told["laws"]["valid plans looked at"] > 0, told
    assert list(TEMPORARY.glob("fillwright-*")) == []
