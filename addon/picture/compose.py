"""One picture put together: the panel's map seen from a view, lines and chalk on it, and the page around it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import bpy
import numpy as np

from ...core.bench.lay_up import LayUp
from ...core.files.png import png
from ...core.legend.legend import Colour, Legend
from ...core.legend.legend_section import INK, PASS
from ...core.map.relief import lit
from ...core.map.views import View
from ...core.picture.map_image import GRAPHITE, PAPER, by_corner, coloured, inked, over, packed, seen, textured
from ...core.picture.picture import A4_MM, Box, Caption, Sheet, aside, page, scale_bar
from ..blender.steps import Steps, in_a_thread
from ..names import ids
from .render import Studio
from .sitter import Sitter, points_of

_INKS = {ids.CONTOURS: INK, ids.CONTOURS_PALE: PASS, ids.CHALK: GRAPHITE, ids.CHALK_NOTES: GRAPHITE}


@dataclass(frozen=True)
class Look:
    """How pictures are to look: their page, the legend, hatch, how the material goes on and unit."""

    sheet: Sheet
    key: Legend
    hatch: bool
    lay_up: LayUp
    unit: str
    mm_per_unit: float


def photo_png(studio: Studio, sitter: Sitter, view: View, look: Look, words: Caption) -> Steps[bytes | None]:
    """The scan's own photograph from ``view`` on a page of its own, or None where it has none; in steps."""
    kind = next((photo.kind for photo in sitter.photos if photo.kind), "")
    if not kind:
        return None
    box = look.sheet.map
    for obj, own in zip(sitter.objects, sitter.photos, strict=True):
        obj.data.attributes.active_color_name = own.colours
    studio.show(list(sitter.objects))
    studio.look(view, sitter.size, box.width, box.height)
    image = _paper(box.width, box.height)
    photo = over(image, studio.take(kind, smooth=True, exact=False))
    yield
    blank = blank_page(studio, look, words, False)
    yield
    return (yield from _on_page(studio, photo, view, look, words, blank))


def map_png(studio: Studio, sitter: Sitter, view: View, look: Look, words: Caption, blank: Any) -> Steps[bytes]:
    """The fill map from ``view`` with its lines, on a ``blank`` page, with which view it is and its scale; in steps."""
    box, fine = look.sheet.map, 2
    for obj in sitter.objects:
        _tint(obj.data, view)
    studio.show(list(sitter.objects))
    studio.look(view, sitter.size, fine * box.width, fine * box.height)
    colours = yield from studio.take_in_strips("VERTEX", smooth=False, exact=True)
    inks, cover = _drawn(studio, sitter, view, box)
    image = yield from in_a_thread(partial(_inked, colours, inks, cover, look, fine))
    return (yield from _on_page(studio, image, view, look, words, blank))


def _inked(colours: Any, inks: list[Colour], cover: Any, look: Look, fine: int) -> Any:
    """The map's pixels with its lines on them."""
    image = coloured(seen(colours), look.key, look.hatch, _grain(look), fine, cover.max(axis=-1))
    for channel, ink in enumerate(inks):
        image = inked(image, cover[..., channel], ink)
    return image


def _tint(mesh: bpy.types.Mesh, view: View) -> None:
    """Give every corner the colour that stands for its depth and its light."""
    depth = np.empty(len(mesh.vertices), dtype=np.float32)
    mesh.attributes[ids.DEPTH].data.foreach_get("value", depth)
    vertex = np.empty(len(mesh.loops), dtype=np.int32)
    mesh.loops.foreach_get("vertex_index", vertex)
    corners = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", corners)
    _, normals, _ = points_of(mesh)
    light = lit(normals, view.right, view.up, view.toward)[vertex]
    name = "fillwright_seen"
    layer = mesh.attributes.get(name) or mesh.attributes.new(name, "FLOAT_COLOR", "CORNER")
    layer.data.foreach_set("color", packed(by_corner(depth, vertex, corners), light).ravel())
    mesh.attributes.active_color_name = name
    mesh.update()


def _drawn(studio: Studio, sitter: Sitter, view: View, box: Box) -> tuple[list[Colour], Any]:
    """The inks of lines and chalk, and what share of each pixel each covers; the panel hides what lies behind it."""
    lines = {name: obj for name, obj in sitter.lines.items() if name != ids.CHALK or not view.close}
    inks = sorted({_INKS[name] for name in lines})
    for obj in sitter.objects:
        obj.color = (0.0, 0.0, 0.0, 1.0)
    for name, obj in lines.items():  # one channel an ink
        channel = inks.index(_INKS[name])
        obj.color = (*(float(channel == k) for k in range(3)), 1.0)
    studio.show([*sitter.objects, *lines.values()])
    studio.look(view, sitter.size, box.width, box.height)
    return inks, studio.take("OBJECT", smooth=True, exact=True)[..., :3]


def blank_page(studio: Studio, look: Look, words: Caption, with_legend: bool) -> Any:
    """The pixels (rows, columns, 3) of what is the same on the page of every view."""
    place, key = look.sheet, look.key if with_legend else None
    whole = over(_paper(place.width, place.height), studio.draw(page(place, words, key, look.lay_up)))
    if key is not None:
        textured(_part(whole, place.legend), key, look.hatch, _grain(look))
    return whole


def _on_page(studio: Studio, image: Any, view: View, look: Look, words: Caption, blank: Any) -> Steps[bytes]:
    place, box, whole = look.sheet, look.sheet.map, blank.copy()
    _part(whole, box)[:] = image
    parts = [aside(place, words)]
    if not view.perspective:
        parts.append(scale_bar(place, box.width / (2 * view.half_width * look.mm_per_unit), look.unit))
    for corner, drawing in parts:
        part = _part(whole, corner)
        part[:] = over(part, studio.draw(drawing))
        yield
    return (yield from in_a_thread(partial(png, whole, A4_MM)))


def _part(whole: Any, box: Box) -> Any:
    return whole[box.top : box.top + box.height, box.left : box.left + box.width]


def _grain(look: Look) -> int:
    return max(3, round(0.45 * look.sheet.size))


def _paper(width: int, height: int) -> Any:
    return np.full((height, width, 3), PAPER, dtype=np.uint8)
