"""Where things are on the screen, and what colour is seen there."""

from __future__ import annotations

import os
import struct
import sys
import tempfile
import zlib
from pathlib import Path
from typing import Any

import bpy
import hand
import numpy as np


def where(points: Any, matrix: Any = None) -> Any:
    """Places in the window (k, 2) of points (k, 3), by the view's own matrix; ``matrix`` takes them to the world."""
    area, region, _ = hand.view()
    perspective = np.array(area.spaces.active.region_3d.perspective_matrix)
    if matrix is not None:
        perspective = perspective @ np.array(matrix)
    points = np.asarray(points, dtype=np.float64)
    seen = points @ perspective[:, :3].T + perspective[:, 3]
    half = np.array([region.width, region.height]) / 2
    return (seen[..., :2] / seen[..., 3:] + 1) * half + (region.x, region.y)


def on_screen(panel: Any) -> Any:
    """Places in the window (k, 2) of all of an object's vertices."""
    places = np.empty(3 * len(panel.data.vertices), dtype=np.float32)
    panel.data.vertices.foreach_get("co", places)
    return where(places.reshape(-1, 3), panel.matrix_world)


def values(panel: Any, name: str) -> Any:
    """An attribute's values, one for each vertex."""
    attribute = panel.data.attributes[name]
    got = np.empty(len(attribute.data), dtype=np.float32 if attribute.data_type == "FLOAT" else np.int32)
    attribute.data.foreach_get("value", got)
    return got


def even_place(panel: Any, number: int, record: dict[str, Any], package: str) -> tuple[Any, float, list[int]]:
    """A place in the window inside area ``number`` (from 1) where all around has one colour: place, depth, that colour.

    Metal deeper than the material may go is passed by, for a hatch lies over it; so is what a contour covers.
    """
    depth, label, at = values(panel, "fillwright_depth_mm"), values(panel, "fillwright_area"), on_screen(panel)
    colours = legend_colours(record, depth, package)
    deepest = record["material"]["greatest_depth_mm"] or np.inf
    best: tuple[int, int] | None = None
    clear = np.linalg.norm(at - hand.middle(), axis=1) < 250.0  # of legend, sidebar and what else lies over the view
    lines = lines_on_screen()
    for vertex in np.flatnonzero((label == number) & (depth < deepest) & (np.abs(depth) > 0.5) & clear):
        if len(lines) and np.linalg.norm(lines - at[vertex], axis=1).min() < 9.0:
            continue
        near = np.linalg.norm(at - at[vertex], axis=1) < 12.0
        if (colours[near] == colours[vertex]).all() and (best is None or near.sum() > best[0]):
            best = (int(near.sum()), int(vertex))
    if best is None:
        raise hand.NotThereError(f"area {number} has no even place")
    vertex = best[1]
    return at[vertex], float(depth[vertex]), [int(value) for value in colours[vertex]]


def lines_on_screen() -> Any:
    """Places in the window (k, 2) of what is drawn over the map, a few pixels apart or less where the view is near."""
    found = [np.empty((0, 2))]
    for name in ("Contours", "Contours Pale"):
        obj = bpy.data.objects[name]
        for spline in obj.data.splines:
            points = np.empty(4 * len(spline.points), dtype=np.float32)
            spline.points.foreach_get("co", points)
            points = points.reshape(-1, 4)[:, :3]
            between = 0.5 * (points[1:] + points[:-1])
            found.append(where(np.concatenate([points, between]), obj.matrix_world))
    return np.concatenate(found)


def pixels() -> Any:
    """What is on the screen, (height, width, 3) of 0 to 255, first row on top.

    Xvfb keeps its screen in a file in the form of X11/XWDFile.h: 25 or more numbers, a colour table, then rows of BGRX.
    On another display Blender is asked, which may be wrong where its driver can't read what it shows.
    """
    file = os.environ.get("FILLWRIGHT_SCREEN", "")
    if file:
        raw = Path(file).read_bytes()
        head = np.frombuffer(raw, dtype=">u4", count=25)
        start, width, height, stride = int(head[0] + 12 * head[19]), int(head[4]), int(head[5]), int(head[12])
        rows = np.frombuffer(raw, dtype=np.uint8, count=height * stride, offset=start).reshape(height, stride)
        return rows[:, : 4 * width].reshape(height, width, 4)[:, :, 2::-1]
    path = Path(tempfile.mkdtemp()) / "screen.png"
    with bpy.context.temp_override(window=hand.window()):
        bpy.ops.screen.screenshot(filepath=str(path))
    image = bpy.data.images.load(str(path))
    image.colorspace_settings.name = "Non-Color"  # as it is seen
    found = np.empty(image.size[0] * image.size[1] * 4, dtype=np.float32)
    image.pixels.foreach_get(found)
    shape = (image.size[1], image.size[0], 4)
    bpy.data.images.remove(image)
    return np.round(255 * found.reshape(shape)[::-1, :, :3]).astype(np.uint8)


def save(shown: Any, path: Path) -> None:
    """A picture as PNG (W3C PNG, 8-bit RGB, rows unfiltered)."""
    height, width, _ = shown.shape
    rows = np.zeros((height, 1 + 3 * width), dtype=np.uint8)
    rows[:, 1:] = shown.reshape(height, -1)
    parts = [(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
             (b"IDAT", zlib.compress(rows.tobytes(), 6)), (b"IEND", b"")]
    chunks = [struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
              for kind, data in parts]
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + b"".join(chunks))


def colour_at(shown: Any, place: tuple[float, float]) -> list[int]:
    """The colour at a place in the window: the median of 5 x 5 pixels, since lines and dots may cross it."""
    x, y = round(place[0]), shown.shape[0] - 1 - round(place[1])
    part = shown[y - 2 : y + 3, x - 2 : x + 3].reshape(-1, 3)
    return [round(float(value)) for value in np.median(part, axis=0)]


def legend_colours(record: dict[str, Any], depth: Any, package: str) -> Any:
    """The colours (k, 3) that core's legend gives to depths (k,)."""
    paper = sys.modules[f"{package}.core.legend.legend"]
    key = paper.legend(record["settings"]["true_mm"], record["material"]["greatest_depth_mm"])
    return paper.colours(depth, key)[:, :3]
