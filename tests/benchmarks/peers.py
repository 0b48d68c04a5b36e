"""Other libraries on the same arrays: the signed distance of each panel point from the finished shape, and no more."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec

import igl
import numpy as np

from .scenes import Points, Scene

VTK_SAMPLE, TRIMESH_SAMPLE = 20_000, 500


@dataclass(frozen=True)
class Peer:
    """Seconds that a library takes, or None where it is not installed; ``sampled``: points that were timed, of all
    points where 0; the seconds are then for all points, by proportion, with what it builds first counted once."""

    name: str
    seconds: float | None
    sampled: int = 0


def libigl_seconds(scene: Scene) -> float:
    """libigl's signed_distance by pseudonormals, tree and all."""
    panel, target = scene.panel, scene.target
    kind = igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
    return _seconds(lambda: igl.signed_distance(panel.points, target.points, target.triangles, sign_type=kind))


def slow_peers(scene: Scene) -> list[Peer]:
    """VTK's implicit distance and trimesh's proximity, on a sample of the points."""
    return [
        _sampled("VTK vtkImplicitPolyDataDistance", "pyvista", VTK_SAMPLE, scene, _vtk(scene)),
        _sampled("trimesh.proximity.signed_distance", "rtree", TRIMESH_SAMPLE, scene, _trimesh(scene)),
    ]


Ask = Callable[[Points], object]


def _vtk(scene: Scene) -> Callable[[], Ask]:
    def build() -> Ask:
        import pyvista
        from vtkmodules.util.numpy_support import numpy_to_vtk
        from vtkmodules.vtkCommonCore import vtkDoubleArray
        from vtkmodules.vtkFiltersCore import vtkImplicitPolyDataDistance

        distance = vtkImplicitPolyDataDistance()
        distance.SetInput(pyvista.PolyData.from_regular_faces(scene.target.points, scene.target.triangles))

        def ask(points: Points) -> None:
            distance.FunctionValue(numpy_to_vtk(np.ascontiguousarray(points)), vtkDoubleArray())

        return ask

    return build


def _trimesh(scene: Scene) -> Callable[[], Ask]:
    def build() -> Ask:
        import trimesh

        query = trimesh.proximity.ProximityQuery(
            trimesh.Trimesh(scene.target.points, scene.target.triangles, process=False)
        )
        return query.signed_distance

    return build


def _sampled(name: str, package: str, count: int, scene: Scene, build: Callable[[], Ask]) -> Peer:
    if find_spec(package) is None:
        return Peer(name, None)
    points = scene.panel.points
    some = points[np.linspace(0, len(points) - 1, count).astype(np.int64)]
    made: list[Ask] = []
    building = _seconds(lambda: made.append(build())) + _seconds(lambda: made[0](some[:1]))
    asking = _seconds(lambda: made[0](some))
    return Peer(name, building + asking * len(points) / count, count)


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start
