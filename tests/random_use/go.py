"""So many random steps from one seed, with the laws held after each."""

from __future__ import annotations

import traceback
from collections import Counter
from time import perf_counter
from typing import Any

import bpy
import numpy as np

from tests.addon.scenes import dented_plate
from tests.random_use import blenders_steps, our_steps  # each puts its steps into KNOWN
from tests.random_use.kinds import KNOWN, PLACE
from tests.random_use.laws import Laws
from tests.random_use.world import Steps, World, WrongError

_ANEW = 30  # steps after which a file is begun anew: a scene that was much worked on can seldom be planned any more
_LAST = 25  # steps that are told when a law is broken


def begin(world: World) -> None:
    """A new file with the plate, its shape, another shape, a bystander, and the plate's collection."""
    bpy.ops.wm.read_homefile(use_empty=False)
    for obj in list(bpy.data.objects):
        bpy.data.objects.remove(obj)
    scene = bpy.context.scene
    plate = dented_plate(scene, 61)
    other = bpy.data.objects.new("Other Shape", plate.target_object.data.copy())
    other.location.z = -0.4
    bystander = bpy.data.objects.new("Bystander", plate.target_object.data.copy())
    bystander.location.x = 400.0
    together = bpy.data.collections.new("Panels")
    scene.collection.children.link(together)
    together.objects.link(plate.panel_object)
    for obj in (other, bystander):
        scene.collection.objects.link(obj)
    plate.target_object.hide_set(True)
    bpy.context.view_layer.update()
    bpy.ops.wm.save_as_mainfile(filepath=str(world.folder / "random.blend"))
    world.pushed("begun")


def go(world: World, count: int, told: dict[str, Any]) -> Steps:
    """Do ``count`` steps; ``told`` gets what was done. WrongError names the step that broke a law."""
    begin(world)
    yield 0.5
    laws, done, often = Laws(world), Counter[str](), np.array([step.often for step in KNOWN])
    seconds: dict[str, float] = {}
    told |= {"steps": done, "laws": laws.checked, "seconds": seconds}
    journal: list[str] = []
    for number in range(1, count + 1):
        if number % _ANEW == 0:
            yield from our_steps.ended(world)
            begin(world)
            yield 0.3
            laws.begin()
            yield from blenders_steps.set_right(world)
            laws.hold(frozenset({PLACE}))
        step = KNOWN[int(world.rng.choice(len(KNOWN), p=often / often.sum()))]
        said = len(world.said)
        _kept(world, [*journal, f"{number} {step.name} ..."])  # tells where Blender hangs or is gone
        begun = perf_counter()
        try:
            yield from step.do(world)
            yield from world.settled()
            worked = perf_counter()
            laws.hold(step.changes)
            seconds["laws"] = seconds.get("laws", 0.0) + perf_counter() - worked
        except Exception as error:
            journal.append(_line(number, step.name, world, said))
            last = "\n".join(journal[-_LAST:])
            raise WrongError(f"step {number}, {step.name}: {error}\n{last}\n{traceback.format_exc()}") from None
        finally:
            done[step.name] += 1
            seconds[step.name] = round(seconds.get(step.name, 0.0) + perf_counter() - begun, 2)
        journal.append(_line(number, step.name, world, said))
    yield from our_steps.ended(world)
    laws.hold(frozenset())


def _kept(world: World, journal: list[str]) -> None:
    (world.folder / "journal.txt").write_text("\n".join(journal), encoding="utf-8")


def _line(number: int, name: str, world: World, said: int) -> str:
    return f"{number} {name}: {'; '.join(world.said[said:])}"


def seeded(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)
