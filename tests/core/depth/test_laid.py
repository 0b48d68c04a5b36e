"""Whether laid work that is planned as bare metal is asked about, and bare metal is not.

Laid work as core/fill/overbuild.py has it: the low's shape filled to an even overbuild that tapers over a margin, with
an unevenness of covariance exp(-d^2 / 2 l^2). How wide is wide: common practice, no source.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.bench.materials import pick
from core.depth.laid import KnownLow, known_lows
from core.errors import InputError
from core.files.source import Source
from core.planning.plan import Plan, make_plan
from core.report.plan_record import areas_csv, plan_record
from core.report.summary import summary
from core.settings import Settings
from tests.core.command_line import plan as command
from tests.core.command_line import refused, run, save
from tests.core.shapes import cosine_dent, flat_target, grid_points, noise_field, sheet
from tests.seeds import seeds

SIZE, STEP, MARGIN = (420.0, 260.0), 3.0, 12.7
X, Y = grid_points(*SIZE, STEP)
TARGET = flat_target(*SIZE)
HAMMER = re.compile(r"\btap|\bshr[iu]nk", re.IGNORECASE)
SOURCE = Source("a.ply", "", "mm", "panel: mm, as stated")


def scene(seed: int) -> tuple[Any, Any, Any]:
    """Height of the bare panel, of the laid one, and of one whose lows were raised to within 0.15 mm; 1 to 3 lows."""
    chance = np.random.default_rng(seed)
    bare, laid = np.zeros_like(X), np.zeros_like(X)
    for place in chance.permutation(3)[: chance.integers(1, 4)]:
        centre = (75.0 + 135 * place, 130.0 + chance.uniform(-40, 40))
        half = tuple(chance.uniform(28.0, 55.0, 2))
        bare -= cosine_dent(X, Y, centre, half, chance.uniform(1.5, 4.0))
        off = np.hypot((X - centre[0]) / half[0], (Y - centre[1]) / half[1])
        outside = (off - 1) * min(half)
        laid = np.maximum(laid, np.clip(1 - outside / MARGIN, 0.0, 1.0))
    uneven = noise_field(X.shape, STEP, 12.0, 0.3, chance)
    noise = noise_field(X.shape, STEP, 8.0, 0.02, chance)
    proud = np.where(laid > 0, laid * (1.1 + uneven), bare)
    return bare + noise, proud + noise, 0.15 * uneven / 0.3 + noise


def planned(height: Any, before: tuple[KnownLow, ...] = (), **changes: Any) -> Plan:
    settings = Settings(**changes)
    return make_plan(sheet(X, Y, height), TARGET, settings, pick(settings.material), before=before)


def record_of(plan: Plan) -> dict[str, Any]:
    return json.loads(json.dumps(plan_record(plan, SOURCE, SOURCE)))


def words_of(plan: Plan) -> str:
    """All that is told of a plan, but for what asks."""
    asked = [text for text in plan.warnings if "hammer nothing" in text]
    told = summary(plan, SOURCE, SOURCE, [])
    for text in asked:
        told = told.replace(f"! {text}", "")
    return told + areas_csv(plan) + json.dumps([area["work"] for area in record_of(plan)["areas"]])


@pytest.mark.parametrize("seed", seeds(12, 4))
def test_laid_work_planned_as_bare_is_asked_about_and_nobody_told_to_tap(seed: int) -> None:
    bare, laid, _ = scene(seed)
    first = planned(bare)
    before = known_lows(record_of(first))
    assert not first.laid
    assert before
    plan = planned(laid, before)
    assert {name for one in plan.laid for name in one.over} == {low.name for low in before}
    assert sum("of the plan before" in text and "--surface laid" in text for text in plan.warnings) == len(plan.laid)
    assert not HAMMER.search(words_of(plan))
    # Without the plan before it is asked as well: wide, and nothing lies low.
    assert any("more stands proud than lies low" in text for text in planned(laid).warnings)


@pytest.mark.parametrize("seed", seeds(12, 4))
def test_bare_metal_is_not_asked_about(seed: int) -> None:
    """The same scan again; with ridges pressed up beside the lows; and the lows raised, true within 0.25 mm."""
    bare, _, raised = scene(seed)
    before = known_lows(record_of(planned(bare)))
    ridge = bare + cosine_dent(X, Y, (140.0, 130.0), (14.0, 60.0), 1.2)
    for height, known in ((bare, before), (bare, ()), (ridge, before), (ridge, ()), (raised, before)):
        plan = planned(height, known)
        assert not plan.laid
        assert not any("hammer nothing" in text for text in plan.warnings)


@pytest.mark.parametrize("surface", ["laid", "primed"])
def test_what_was_laid_is_never_tapped_down(surface: str) -> None:
    """Nor is metal under it raised before it comes off; nothing is asked, for it was said."""
    raised = 0
    for seed in range(4):
        bare, laid, _ = scene(seed)
        for height in (bare, laid, bare - 9.0 * (bare < -1.0)):
            plan = planned(height, surface=surface)
            assert not plan.laid
            told = words_of(plan) + " ".join(plan.warnings)
            assert not HAMMER.search(told)
            for found in re.finditer(r"bring the metal up|rough (it|a dent) out", told):
                assert told[: found.start()].endswith("take off what lies there, then "), told
                raised += 1
    assert raised >= 4


def test_bare_highs_are_tapped_down_as_ever() -> None:
    plan = planned(cosine_dent(X, Y, (140, 130), (25, 60), 1.2) - cosine_dent(X, Y, (300, 130), (70, 70), 2.0))
    assert "to be tapped down or shrunk first" in words_of(plan)
    assert [area["work"] for area in record_of(plan)["areas"]] == ["fill", "tap down or shrink"]


def test_lows_are_known_through_plans_that_no_longer_have_them() -> None:
    """Laid work planned twice is asked about twice; the same plan again knows nothing new."""
    bare, laid, _ = scene(1)
    first = record_of(planned(bare))
    again = record_of(planned(bare, known_lows(first)))
    assert again == first
    second = record_of(planned(laid, known_lows(first)))
    assert known_lows(second)[-1].name.startswith("Low")
    third = planned(laid, known_lows(second))
    assert third.laid
    assert all(one.over for one in third.laid)


def test_both_doors_find_the_plan_before(tmp_path: Path) -> None:
    bare, laid, _ = scene(3)
    files = {name: save(sheet(X, Y, z), tmp_path / f"{name}.ply") for name, z in (("bare", bare), ("laid", laid))}
    target = save(TARGET, tmp_path / "shape.stl")
    other = save(flat_target(*SIZE, 90.0), tmp_path / "other.stl")
    units = ("--panel-unit", "mm", "--target-unit", "mm")

    def asked(record: dict[str, Any]) -> bool:
        return any("of the plan before" in text for text in record["warnings"])

    out = tmp_path / "out"
    command(files["bare"], target, out, *units)
    command(files["bare"], target, tmp_path / "first", *units)
    assert asked(command(files["laid"], target, out, *units))
    assert asked(command(files["laid"], target, out, *units))
    assert not asked(command(files["laid"], other, out, *units))  # another finished shape: nothing to go by
    assert asked(command(files["laid"], target, tmp_path / "new", *units, "--before", tmp_path / "first"))
    words = ("--before", tmp_path / "first", "--surface", "laid")
    said = command(files["laid"], target, tmp_path / "said", *units, *words)
    assert not asked(said)
    assert said["settings"]["surface"] == "laid"
    refused(run("plan", files["laid"], target, *units, "--out", out, "--before", tmp_path, "--quiet"), 2, "--before")


@pytest.mark.parametrize("record", [{}, [], {"areas": [{"kind": "low"}]}, {"areas": 3}, "plan"])
def test_what_is_no_plan_is_refused(record: Any) -> None:
    with pytest.raises(InputError, match="no plan of Fillwright's"):
        known_lows(record)
