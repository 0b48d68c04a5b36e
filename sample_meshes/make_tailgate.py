"""Make the sample: the scan of a damaged tailgate skin, the shape it should have, and the known answers.

Invented from formulas; no real vehicle. Run: python sample_meshes/make_tailgate.py [OUT_DIR]
The same libraries give the same bytes each time.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import tailgate_surface as skin
from numpy.typing import NDArray
from tailgate_damage import DAMAGE, NOISE_LENGTH_MM, NOISE_SIGMA_MM, TRUE_MM, Noise, depth, known_answer
from tailgate_mesh import Grid, skin_mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SEED = 20240
SCAN_GRID = Grid(face_mm=2.9, pocket_mm=1.8, hole_mm=1.57, bend_rows=12, stray=0.18, turn_deg=3.0)
SHAPE_GRID = Grid(face_mm=7.0, pocket_mm=2.0, hole_mm=1.26, bend_rows=12, stray=0.01, turn_deg=17.0)
DROP_OUTS_MM = ((220.0, -60.0, 8.0), (90.0, -130.0, 6.0), (-255.0, 110.0, 9.0), (-30.0, 175.0, 5.0))  # x, y, size
INVENTED = "Invented from formulas; no real vehicle, no real scan."


def main(out: Path) -> None:
    """Write scan, shape and known answers into ``out``."""
    out.mkdir(parents=True, exist_ok=True)
    for_noise, for_scan, for_shape = (np.random.default_rng([SEED, k]) for k in range(3))
    noise = Noise(for_noise)
    scan, shape = scanned(noise, for_scan), finished(for_shape)
    write_ply(out / "tailgate_scan.ply", *scan)
    write_stl(out / "tailgate_shape.stl", *shape)
    text = json.dumps(known_answers(noise, scan, shape), indent=2)
    (out / "tailgate_expected.json").write_text(text + "\n", encoding="utf-8", newline="\n")


def finished(generator: np.random.Generator) -> tuple[Floats, Ints]:
    """The finished shape: points (n, 3) in mm on the formula, and triangles (m, 3)."""
    x, run, triangles = skin_mesh(SHAPE_GRID, generator)
    return _used(skin.points_and_normals(x, run)[0], triangles)


def scanned(noise: Noise, generator: np.random.Generator) -> tuple[Floats, Ints]:
    """The damaged panel as a scanner might see it: points (n, 3) in mm, and triangles (m, 3)."""
    x, run, triangles = skin_mesh(SCAN_GRID, generator)
    points, normals = skin.points_and_normals(x, run)
    points = points - (depth(x, run) + noise(x, run))[:, None] * normals
    return _used(points, triangles[_seen(x[triangles].mean(axis=1), run[triangles].mean(axis=1))])


def _seen(x: Floats, run: Floats) -> NDArray[np.bool_]:
    """Whether the scanner saw a place: not in the drop-outs, nor deep behind the hem."""
    seen = run > flange_limit(x)
    for cx, cy, size in DROP_OUTS_MM:
        angle = np.arctan2(run - cy, x - cx)
        ragged = 1 + 0.3 * np.cos(2 * angle + cx) + 0.15 * np.cos(3 * angle + cy)
        seen &= np.hypot(x - cx, run - cy) > size * ragged
    return seen


def flange_limit(x: Floats) -> Floats:
    """Lowest run that the scanner saw: about half of the flange, less at one place."""
    turned = skin.HEM_MM - skin.BEND_MM
    blind = 5.0 * np.exp(-(((x - 160.0) / 50.0) ** 2))
    return turned - 6.0 - 2.0 * np.sin(x / 37.0) - 1.0 * np.sin(x / 11.0) + blind


def _used(points: Floats, triangles: Ints) -> tuple[Floats, Ints]:
    """Only the points that triangles use."""
    used, row = np.unique(triangles, return_inverse=True)
    return points[used], row.reshape(triangles.shape)


def known_answers(noise: Noise, scan: tuple[Floats, Ints], shape: tuple[Floats, Ints]) -> dict[str, object]:
    """Everything that is known of the sample beforehand, ready for json."""
    return {
        "what": f"Tailgate skin, scan and finished shape. {INVENTED}",
        "unit": "mm",
        "outside": "+z on the face; triangles run counter-clockwise seen from outside",
        "sign": "depth is positive where the panel lies below the finished shape; volumes and depths here are sizes",
        "volume_method": "midpoint rule, 1200 x 1200 cells over each damage, of d - d^2 H + d^3 K / 3 over the "
        "formula's area (Steiner); without noise. noise_volume_mm3 is what the drawn noise adds, to first order; "
        f"area_off_true_mm2 is where the damage is more than {TRUE_MM} mm",
        "seed": SEED,
        "files": {
            "tailgate_scan.ply": {"vertices": len(scan[0]), "triangles": len(scan[1])},
            "tailgate_shape.stl": {"vertices": len(shape[0]), "triangles": len(shape[1])},
        },
        "overall_size_mm": np.ptp(shape[0], axis=0).round(2).tolist(),
        "shape": {
            "crown_radius_mm": [skin.CROWN_X_MM, skin.CROWN_Y_MM],
            "pocket_mm": {"length": 2 * skin.POCKET_HALF_LENGTH_MM, "height": 2 * skin.POCKET_HALF_HEIGHT_MM,
                          "depth": skin.POCKET_DEPTH_MM, "wall": skin.POCKET_WALL_MM,
                          "centre": [0.0, skin.POCKET_Y_MM]},
            "hem_mm": {"y": skin.HEM_MM, "bend_radius": skin.BEND_RADIUS_MM, "gap": 2 * skin.BEND_RADIUS_MM,
                       "flange": skin.FLANGE_MM},
        },
        "noise": {"sigma_mm": NOISE_SIGMA_MM, "correlation_mm": NOISE_LENGTH_MM,
                  "covariance": "sigma^2 exp(-d^2 / (2 correlation^2))"},
        "areas": [known_answer(each, noise) for each in DAMAGE],
        "holes": [{"diameter_mm": d, "centre_mm": [x, y, round(float(skin.height(np.array(x), np.array(y))), 3)]}
                  for x, y, d in skin.HOLES_MM],
        "drop_outs": [{"centre_mm": [x, y], "about_mm": 2 * size} for x, y, size in DROP_OUTS_MM],
    }


def write_ply(path: Path, points: Floats, triangles: Ints) -> None:
    """Binary PLY, float32."""
    header = (
        f"ply\nformat binary_little_endian 1.0\ncomment unit mm\ncomment {INVENTED}\n"
        f"element vertex {len(points)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.empty(len(triangles), dtype=[("count", "u1"), ("rows", "<i4", 3)])
    faces["count"], faces["rows"] = 3, triangles
    path.write_bytes(header.encode("ascii") + points.astype("<f4").tobytes() + faces.tobytes())


def write_stl(path: Path, points: Floats, triangles: Ints) -> None:
    """Binary STL."""
    corners = points[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facets = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    facets["normal"] = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    facets["corners"] = corners
    header = f"Finished shape, mm. {INVENTED}".encode("ascii").ljust(80)
    path.write_bytes(header + np.uint32(len(triangles)).tobytes() + facets.tobytes())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
