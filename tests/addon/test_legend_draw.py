"""The legend as the view draws it, pixel by pixel beside core's colours; where Blender can draw without a window."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import bpy
import numpy as np
import pytest

from core.legend.drawing import DOT, HATCH
from core.legend.legend import legend
from core.legend.legend_section import CARD
from tests.addon.conftest import part

KEY = legend(greatest_mm=3.2)  # the tree's: colours are compared with these


def cut(width: float, height: float, lay_up: Any = None) -> Any:
    """The legend's shapes by the installed extension's own core."""
    return part("core.legend.legend_section").legend_section(theirs(), width, height, lay_up)


def laid() -> Any:
    return part("core.bench.lay_up").LayUp(2.0, 1.1, 0.0, "solder")


def theirs() -> Any:
    return part("core.legend.legend").legend(greatest_mm=3.2)


def polygons(drawing: Any) -> list[Any]:
    return [shape for shape in drawing.shapes if type(shape).__name__ == "Polygon"]


def texts(drawing: Any) -> list[Any]:
    return [shape for shape in drawing.shapes if type(shape).__name__ == "Text"]


@pytest.fixture(scope="module")
def gpu() -> Any:
    import gpu as module

    if not hasattr(module, "init"):
        pytest.skip("this Blender can't draw in the background")
    module.init()
    return module


def drawn(
    gpu: Any, drawing: Any, place: tuple[float, float], size: tuple[int, int], patterns: bool = True
) -> np.ndarray:
    """What `draw` paints on black, (rows, columns, 3), first row at the bottom as in a view."""
    return painted(gpu, size, lambda: part("addon.map.legend_draw").draw(drawing, *place, patterns))


def painted(gpu: Any, size: tuple[int, int], paint: Callable[[], None], ground: float = 0.0) -> np.ndarray:
    """What ``paint`` paints on an even ``ground``, as `drawn`."""
    from mathutils import Matrix

    canvas = gpu.types.GPUOffScreen(*size)
    try:
        with canvas.bind():
            gpu.state.active_framebuffer_get().clear(color=(ground, ground, ground, 1.0))
            with gpu.matrix.push_pop(), gpu.matrix.push_pop_projection():
                gpu.matrix.load_matrix(Matrix.Identity(4))
                gpu.matrix.load_projection_matrix(_pixels(*size))
                paint()
            buffer = gpu.state.active_framebuffer_get().read_color(0, 0, *size, 4, 0, "UBYTE")
        buffer.dimensions = size[0] * size[1] * 4
        return np.array(buffer, dtype=np.uint8).reshape(size[1], size[0], 4)[..., :3]
    finally:
        canvas.free()


def _pixels(width: int, height: int) -> Any:
    """The projection that makes a unit a pixel, as a view's POST_PIXEL has it."""
    from mathutils import Matrix

    return Matrix(((2 / width, 0, 0, -1), (0, 2 / height, 0, -1), (0, 0, -1, 0), (0, 0, 0, 1)))


def at(image: np.ndarray, place: tuple[float, float], drawing: Any, x: float, y: float) -> tuple[int, ...]:
    """The colour at a point of the drawing (y down)."""
    return tuple(image[round(place[1] + drawing.height - y - 0.5), round(place[0] + x - 0.5)].tolist())


def test_each_step_has_cores_colour(gpu: Any) -> None:
    drawing, place = cut(640, 280), (37.0, 21.0)
    image = drawn(gpu, drawing, place, (720, 330), patterns=False)
    assert at(image, place, drawing, 3, 3) == CARD
    looked_at = 0
    for step in KEY.steps:
        if step.kind == "true":
            continue  # true metal has no thickness in the cut
        shapes = [shape for shape in polygons(drawing) if shape.fill == step.colour]
        assert shapes, step.label
        for shape in shapes:
            line = shape.points[-1, 1]
            x, y = shape.points[(len(shape.points) - 2) // 2]  # along the metal's surface, then back along the line
            if step.kind == "not_judged" or abs(y - line) < 32 or np.ptp(shape.points[:, 0]) < 15:
                continue  # too thin to be seen between metal and line
            looked_at += 1
            assert at(image, place, drawing, x, (y + shape.points[-1, 1]) / 2) == step.colour, step.label
        counted = int((image == step.colour).all(axis=2).sum())
        # Shoelace: as many pixels as the outlines hold, less what lines, dots and text along their sides cover.
        area = sum(_shoelace(shape.points) for shape in shapes)
        rim = sum(np.linalg.norm(np.diff(shape.points, axis=0), axis=1).sum() for shape in shapes)
        assert 0.4 * area - rim < counted < area + 0.5 * rim, step.label
        assert counted > 0.3 * area, step.label
    assert looked_at >= 6


def _shoelace(points: np.ndarray) -> float:
    x, y = points.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def test_hatch_and_dots_are_drawn_and_stay_inside(gpu: Any) -> None:
    drawing, place = cut(640, 280), (10.0, 10.0)
    with_hatch, without = (drawn(gpu, drawing, place, (660, 300), on) for on in (True, False))
    changed = (with_hatch != without).any(axis=2)
    deep = next(shape for shape in polygons(drawing) if shape.hatch)
    rows, columns = np.nonzero(changed)
    x, y = columns + 0.5 - place[0], drawing.height - (rows + 0.5 - place[1])
    assert deep.points[:, 0].min() - 3 <= x.min()
    assert x.max() <= deep.points[:, 0].max() + 3
    assert deep.points[:, 1].min() - 3 <= y.min()
    assert y.max() <= deep.points[:, 1].max() + 3
    share = changed.sum() / _shoelace(deep.points)
    assert 0.15 < share < 0.5  # a quarter of the ground is stripe (drawing's pattern), its soft edges come on top
    colours = {tuple(c) for c in with_hatch[changed].tolist()}
    assert any(np.abs(np.array(c) - HATCH).max() <= 2 for c in colours)
    assert (np.abs(with_hatch.astype(int) - DOT).max(axis=2) <= 1).any()


def test_nothing_is_drawn_outside_the_card(gpu: Any) -> None:
    drawing, place = cut(480, 210, laid()), (60.0, 40.0)
    image = drawn(gpu, drawing, place, (600, 300))
    outside = np.ones(image.shape[:2], dtype=bool)
    outside[39:251, 59:541] = False
    assert not image[outside].any()
    assert (image[41:249, 61:539] > 0).any(axis=2).all()


@pytest.mark.parametrize("scale", [1.0, 1.25, 2.0])
def test_text_is_legible_and_grows_with_the_interface(scale: float) -> None:
    make = part("addon.map.legend_draw").legend_drawing
    large = make(theirs(), laid(), (4000.0, 4000.0), scale)
    tight = make(theirs(), laid(), (2 * large.width, 4000.0), scale)  # the larger would take up half of it
    for drawing in (large, tight):
        assert min(text.size for text in texts(drawing)) >= 11.0 * scale
    assert tight.width < 0.9 * large.width
    small = make(theirs(), laid(), (tight.width - 1.0, 4000.0), scale)
    assert min(text.size for text in texts(small)) >= 9.0 * scale
    assert small.width < tight.width
    for room in ((small.width - 1.0, 4000.0), (4000.0, small.height - 1.0)):
        line = make(theirs(), laid(), room, scale)
        assert [text.text for text in texts(line)] in (["Fill Map. Legend: widen the view"], ["Fill Map"])
        assert line.width <= room[0]
        assert line.height <= room[1]
    assert make(theirs(), laid(), (20.0 * scale, 4000.0), scale) is None


def test_a_plan_out_of_date_is_said_on_every_size_of_legend() -> None:
    """And in the same room: what says so never costs the whole legend without a word."""
    make = part("addon.map.legend_draw").legend_drawing
    said = part("core.legend.band").OUT_OF_DATE
    for width in (2000.0, 700.0, 420.0, 330.0, 260.0):
        stale, fresh = (make(theirs(), laid(), (width, 500.0), 1.0, over) for over in ((said,), ()))
        assert any(said in text.text for text in texts(stale))
        assert not any(said in text.text for text in texts(fresh))
        assert stale.width <= width


def test_words_fit_where_core_sets_them_out() -> None:
    """Blender's font is no wider than core reckons a character to be; else numbers would run into one another."""
    import blf

    character = part("core.legend.drawing").CHARACTER
    for text in texts(cut(640, 280, laid())):
        if not (text.text[0].isdigit() or len(text.text) > 8):
            continue  # "mm" is wide, and has room
        blf.size(0, text.size)
        assert blf.dimensions(0, text.text)[0] <= character * text.size * len(text.text) + 1.0  # whole pixels


class _Region:
    def __init__(self, kind: str, alignment: str, x: int, y: int, width: int, height: int) -> None:
        self.type, self.alignment = kind, alignment
        self.x, self.y, self.width, self.height = x, y, width, height


def test_the_legend_keeps_clear_of_toolbar_sidebar_and_header() -> None:
    class Area:
        regions = (
            _Region("WINDOW", "NONE", 100, 50, 1000, 600), _Region("TOOLS", "LEFT", 100, 50, 60, 600),
            _Region("UI", "RIGHT", 840, 50, 260, 600), _Region("HEADER", "TOP", 100, 624, 1000, 26),
            _Region("ASSET_SHELF", "BOTTOM", 100, 50, 1000, 1),  # closed
        )

    left, bottom, width, height = part("addon.blender.free_room").free_room(Area, Area.regions[0])
    assert (left, bottom, width, height) == (60, 0, 680, 574)


def test_a_handler_that_fails_takes_itself_out(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    shown = part("addon.map.map_legend")
    removed = []

    class Broken:
        @property
        def context(self) -> Any:
            raise RuntimeError("made to fail")

        class types:
            class SpaceView3D:
                draw_handler_remove = staticmethod(lambda handle, where: removed.append((handle, where)))

    monkeypatch.setattr(shown, "bpy", Broken())
    monkeypatch.setattr(shown._Handler, "handle", "the handle")
    shown._draw_legend()
    assert removed == [("the handle", "WINDOW")]
    assert shown._Handler.handle is None
    assert "made to fail" in capsys.readouterr().err
    monkeypatch.undo()
    assert bpy.types.SpaceView3D is not None


def test_a_map_out_of_date_is_dimmed_all_over(gpu: Any) -> None:
    """More than half of what is drawn gives way to the theme's background, at every pixel of the view alike."""
    veil, region = part("addon.map.legend_draw").veil, SimpleNamespace(width=200, height=120)
    white = painted(gpu, (200, 120), lambda: veil(region), 1.0)
    black = painted(gpu, (200, 120), lambda: veil(region), 0.0)
    assert (white == white[0, 0]).all()
    left = (white[0, 0].astype(float) - black[0, 0]) / 255
    assert (left > 0.3).all()
    assert (left < 0.5).all()


@pytest.mark.parametrize("mouse", [(150.0, 100.0), (590.0, 390.0), (5.0, 5.0)])
def test_the_reading_s_plate_lies_inside_the_free_view(gpu: Any, mouse: tuple[float, float]) -> None:
    """In the theme's own colours, words that can be read on it, and nothing drawn outside of the view's free part."""
    read = part("core.report.depth_probe").DepthProbe(1.5, 1, "Low 1.5 mm", ("Low 1", "2.6 mm to lay, about 2 layers"))
    free = (10.0, 20.0, 560.0, 340.0)
    paint = part("addon.map.reading_text").draw_reading
    image = painted(gpu, (600, 400), lambda: paint(read, mouse, 1.0, free), 0.5)
    changed = np.argwhere((np.abs(image.astype(int) - image[399, 599].astype(int)) > 2).any(axis=2))
    low, high = changed.min(axis=0), changed.max(axis=0)
    assert low[0] >= 19
    assert low[1] >= 9
    assert high[0] <= 360
    assert high[1] <= 570
    colours = bpy.context.preferences.themes[0].user_interface.wcol_tooltip
    plate = image[low[0] : high[0], low[1] : high[1]].reshape(-1, 3).astype(int)
    inner = np.rint(255 * np.array(colours.inner[:3]))
    assert (np.abs(plate - inner).max(axis=1) <= 2).mean() > 0.6
    assert np.abs(plate - inner).max() > 150  # the words


def test_only_shapes_that_every_blender_draws() -> None:
    """Loops and fans, which 4.3 still draws, are gone from gpu's documentation of 5.x."""
    addon = Path(__file__).parents[2] / "addon"
    text = "\n".join(path.read_text(encoding="utf-8") for path in sorted(addon.rglob("*.py")))
    drawn = re.findall(r'batch_for_shader\(\w+, "(\w+)"', text)
    assert len(drawn) == text.count("batch_for_shader(shader") > 5
    assert set(drawn) <= {"POINTS", "LINES", "LINE_STRIP", "TRIS", "TRI_STRIP"}
