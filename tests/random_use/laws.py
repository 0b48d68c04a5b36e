"""What must hold after every step, whatever it was."""

from __future__ import annotations

from typing import Any

import bpy

from tests.random_use import prints
from tests.random_use.kinds import BACK, PLACE, SHAPE
from tests.random_use.world import World, WrongError, record_of, running


class Laws:
    """The laws, with what is known of plans that were made and of meshes that were seen. ``checked`` counts."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.checked = {"valid plans looked at": 0, "out of date though nothing differs": 0, "planned again alike": 0}
        self.begin()

    def begin(self) -> None:
        """A file was begun anew: what was in the one before says nothing of this one."""
        self.plans: dict[str, dict[str, Any]] = {}
        self.shapes = prints.users_geometry()
        self.places = prints.users_places()
        self.seen = {name: {text} for name, text in self.shapes.items()}

    def hold(self, changes: frozenset[str]) -> None:
        """WrongError where one does not hold after a step that may have changed ``changes``."""
        trouble = self.world.trouble()
        if trouble:
            raise WrongError(f"this was written:\n{trouble}")
        self._users_meshes(changes)
        self._planned()
        for scene in bpy.data.scenes:
            _whole(scene)
        self._still_valid(bpy.context.scene)
        _shown(bpy.context.scene)

    def _users_meshes(self, changes: frozenset[str]) -> None:
        """Nothing of the user's was changed but by the step itself."""
        shapes, places = prints.users_geometry(), prints.users_places()
        for name in shapes.keys() & self.shapes.keys():
            if BACK in changes:
                same = shapes[name] in self.seen[name]
            else:
                same = SHAPE in changes or shapes[name] == self.shapes[name]
            if not same:
                raise WrongError(f"the mesh {name} was changed")
        if not changes & {PLACE, BACK}:
            for uid in places.keys() & self.places.keys():
                if places[uid] != self.places[uid]:
                    moved = next(obj.name for obj in bpy.data.objects if obj.session_uid == uid)
                    raise WrongError(f"{moved} was moved")
        for name, text in shapes.items():
            self.seen.setdefault(name, set()).add(text)
        self.shapes, self.places = shapes, places

    def _planned(self) -> None:
        """A plan has been made: what it was made of is kept, and the same again gives the same figures."""
        begun = self.world.pending
        if not begun or running():
            return
        self.world.pending = {}
        scene = next((s for s in bpy.data.scenes if s.session_uid == begun["scene"]), None)
        if scene is None or scene.fillwright.plan_id in ("", begun["plan_id"], *self.plans):
            return
        found = prints.figures(scene)
        self.plans[scene.fillwright.plan_id] = {"made_of": begun["made_of"], "results": prints.results(scene)}
        if begun["figures"] is not None and prints.made_of(scene) == begun["made_of"]:
            self.checked["planned again alike"] += 1
            if not _alike(found, begun["figures"]):
                raise WrongError(f"a plan that held gives other figures when made again: {begun['figures']}, {found}")

    def _still_valid(self, scene: Any) -> None:
        """A plan that is shown as valid is of the meshes and settings as they are, and so are its results."""
        own = scene.fillwright
        plan = self.plans.get(own.plan_id)
        if plan is None or running() or prints.is_edited(scene):
            return
        same = prints.made_of(scene) == plan["made_of"]
        if own.out_of_date:
            self.checked["out of date though nothing differs"] += same
            return
        self.checked["valid plans looked at"] += 1
        if not same:
            raise WrongError(f"shown as valid, but made of {plan['made_of']}, and now it is {prints.made_of(scene)}")
        for now, then, what in zip(prints.results(scene), plan["results"], ("depths", "fill"), strict=True):
            if now and any(one not in then for one in now):
                raise WrongError(f"the {what} in the scene {scene.name} are not those of its plan: {now}, {then}")


def _alike(one: Any, other: Any) -> bool:
    return len(one) == len(other) and all(
        a[0] == b[0] and all(abs(x - y) <= 1e-6 * max(1.0, abs(y)) for x, y in zip(a[1:], b[1:], strict=True))
        for a, b in zip(one, other, strict=True))


def _whole(scene: Any) -> None:
    """The list shows the record's areas, and there is a record where there is a plan."""
    own = scene.fillwright
    if bool(own.plan_id) != bool(own.record):
        raise WrongError(f"{scene.name} has a plan without a record, or a record without a plan")
    listed = [(area.name, round(area.volume_mm3, 1)) for area in own.areas]
    wanted = [] if not own.record else [
        (f"{area['kind'].capitalize()} {area['number']}", area["volume_mm3"]) for area in record_of(scene)["areas"]]
    if [name for name, _ in listed] != [name for name, _ in wanted] or any(
            abs(a[1] - b[1]) > 0.1 + 1e-5 * abs(b[1]) for a, b in zip(listed, wanted, strict=True)):
        raise WrongError(f"{scene.name} lists {listed}, and its record says {wanted}")


def _shown(scene: Any) -> None:
    """What a map hides or changes of the user's is kept while it is on, and only then; views are shaded for it."""
    own = scene.fillwright
    if len(own.map_kept) and not own.show_map:
        raise WrongError("no map is shown, but what it changed was not given back")
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas if window.scene == scene else ():
            if area.type == "VIEW_3D":
                shading = area.spaces.active.shading
                is_map = (shading.type, shading.light, shading.color_type) == ("SOLID", "FLAT", "VERTEX")
                if is_map != own.show_map:
                    raise WrongError(f"a view is {'' if is_map else 'not '}shaded for a map, "
                                     f"and a map is {'' if own.show_map else 'not '}shown")
