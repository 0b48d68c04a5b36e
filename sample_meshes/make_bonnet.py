"""Make the second sample: the scan of an invented bonnet, damaged on one side, in the scanner's own frame.

There is no finished shape beside it: the good side is to be mirrored. Invented from formulas; no real vehicle.
Run: python sample_meshes/make_bonnet.py [OUT_DIR]. The same libraries give the same arrays each time.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import bonnet_surface as skin
import numpy as np
from bonnet_damage import DAMAGE, NOISE_LENGTH_MM, NOISE_SIGMA_MM, Noise, depth, known_answer
from bonnet_glb import glb
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from scipy.spatial.transform import Rotation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SEED, STEP_MM, STRAY = 31337, 5.1, 0.22
INVENTED = "Invented from formulas; no real vehicle, no real scan."
# From the car's frame to the scanner's, in which the file keeps the points.
SCANNER = Rotation.from_euler("xyz", [17.0, -8.0, 131.0], degrees=True)
# The file's nodes, the outer first: Z up becomes Y up, then the panel is moved, in metres.
Y_UP = Rotation.from_euler("x", -90.0, degrees=True)
NODE, NODE_SHIFT_M = Rotation.from_euler("z", 24.0, degrees=True), np.array([2.3, -0.7, 0.45])


def main(out: Path) -> None:
    """Write the scan and the known answers into ``out``."""
    out.mkdir(parents=True, exist_ok=True)
    for_noise, for_mesh = (np.random.default_rng([SEED, k]) for k in range(2))
    u, v, triangles = grid(for_mesh)
    points = scanned(u, v, Noise(for_noise))
    places, uv, split = islands(SCANNER.apply(points) / 1000, u, v, triangles)
    nodes = [{"name": "Y up", "rotation": Y_UP.as_quat().tolist(), "children": [1]},
             {"name": "bonnet", "rotation": NODE.as_quat().tolist(), "translation": NODE_SHIFT_M.tolist()}]
    (out / "bonnet_scan.glb").write_bytes(glb(places, uv, split, nodes, INVENTED))
    text = json.dumps(known_answers(len(points), len(places), len(split)), indent=2)
    (out / "bonnet_expected.json").write_text(text + "\n", encoding="utf-8", newline="\n")


def grid(generator: np.random.Generator) -> tuple[Floats, Floats, Ints]:
    """Places u, v (n,) on the bonnet, strewn unevenly, and triangles (m, 3) between them, seen from above."""
    size = (round(2 * skin.REAR_HALF_WIDTH_MM / STEP_MM), round(2 * skin.HALF_LENGTH_MM / STEP_MM))
    u, v = np.meshgrid(*(np.linspace(-1, 1, n + 1) for n in size), indexing="ij")
    stray = STRAY * generator.uniform(-1, 1, (2, *u.shape))
    u = np.where(np.abs(u) < 1, u + 2 / size[0] * stray[0], u).ravel()  # the rim's points stay on the rim
    v = np.where(np.abs(v) < 1, v + 2 / size[1] * stray[1], v).ravel()
    flat = np.stack([u * size[0], v * size[1]], axis=1)
    triangles = Delaunay(flat).simplices.astype(np.int64)
    one, other = (flat[triangles[:, k]] - flat[triangles[:, 0]] for k in (1, 2))
    turned = one[:, 0] * other[:, 1] < one[:, 1] * other[:, 0]
    triangles[turned] = triangles[turned, ::-1]
    return u, v, triangles


def scanned(u: Floats, v: Floats, noise: Noise) -> Floats:
    """The damaged panel as the scanner saw it, (n, 3) mm in the car's frame."""
    x, y = skin.outline(u, v)
    points, normals = skin.points_and_normals(x, y)
    return points - (depth(x, y) + noise(x, y))[:, None] * normals


def islands(points: Floats, u: Floats, v: Floats, triangles: Ints) -> tuple[Floats, Floats, Ints]:
    """Points, UV and triangles with the points on a texture's seams doubled, as texturing programs leave them."""
    middle_u, middle_v = u[triangles].mean(axis=1), v[triangles].mean(axis=1)
    island = (middle_u > 0.31 + 0.1 * np.sin(5 * middle_v)) + 2 * (middle_v > 0.45 + 0.05 * np.cos(9 * middle_u))
    key = triangles * 4 + island[:, None]
    used, row = np.unique(key, return_inverse=True)
    vertex, part = used // 4, used % 4
    uv = 0.5 * np.stack([(u[vertex] + 1) / 2 + part % 2, (v[vertex] + 1) / 2 + part // 2], axis=1)
    return points[vertex], uv, row.reshape(triangles.shape)


def pose() -> tuple[Floats, Floats]:
    """Rotation (3, 3) and shift (3,) mm from the car's frame to the frame that the file shows."""
    both = Y_UP * NODE * SCANNER
    return both.as_matrix(), 1000 * Y_UP.apply(NODE_SHIFT_M)


def known_answers(points: int, places: int, triangles: int) -> dict[str, object]:
    """Everything that is known of the sample beforehand, ready for json."""
    rotation, shift = pose()
    normal = rotation[:, 0]
    return {
        "what": f"Bonnet, scan. {INVENTED}",
        "unit": "the scan's is m, as in every GLB; all figures here are in mm",
        "outside": "+z in the car's frame; triangles run counter-clockwise seen from outside",
        "volume_method": "midpoint rule, 800 x 800 cells over each damage, of d - d^2 H + d^3 K / 3 over the formula's "
        "area (Steiner); without noise",
        "seed": SEED,
        "files": {"bonnet_scan.glb": {"places": points, "vertices": places, "triangles": triangles}},
        "noise": {"sigma_mm": NOISE_SIGMA_MM, "correlation_mm": NOISE_LENGTH_MM,
                  "covariance": "sigma^2 exp(-d^2 / (2 correlation^2))"},
        "shape": {
            "half_width_mm": {"rear": skin.REAR_HALF_WIDTH_MM, "front": skin.FRONT_HALF_WIDTH_MM},
            "half_length_mm": skin.HALF_LENGTH_MM, "front_bow_mm": skin.FRONT_BOW_MM,
            "crown_radius_mm": [skin.CROWN_X_MM, skin.CROWN_Y_MM], "front_drop_mm": skin.FRONT_DROP_MM,
            "centre_line_mm": {"height": skin.CENTRE_MM, "width": skin.CENTRE_WIDTH_MM},
            "swage_mm": {"height": skin.SWAGE_MM, "width": skin.SWAGE_WIDTH_MM, "x": skin.SWAGE_X_MM,
                         "splay": skin.SWAGE_SPLAY},
        },
        "pose": {"what": "scan = rotation . car + shift_mm", "rotation": rotation.tolist(), "shift_mm": shift.tolist()},
        "plane": {"what": "the symmetry plane in the scan's frame, normal . x = offset_mm",
                  "normal": normal.tolist(), "offset_mm": float(normal @ shift)},
        "areas": [known_answer(each) for each in DAMAGE],
    }


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
