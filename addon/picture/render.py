"""A scene of its own to take pictures in: nothing of the user's scene, view, shading or render settings is touched."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ...core.legend.drawing import Drawing, Line, Polygon, Shape
from ...core.legend.scene_linear import linear
from ...core.map.views import View
from ...core.picture.map_image import smaller
from ..blender.steps import Steps
from .shapes import face_of, stroke_of, text_of

_NAME = "Fillwright Picture"
_LARGE = 1800  # pixels across
_APART = 40.0  # between a drawing's shapes from back to front, so that a thick line never pokes through the next


class Studio:
    """A temporary scene with a camera; everything made in it is gone when the ``with`` block ends."""

    def __enter__(self) -> Studio:
        self._had = {name: set(getattr(bpy.data, name)) for name in ("images", "fonts")}
        self._made: list[bpy.types.ID] = []
        self._folder = tempfile.TemporaryDirectory(prefix="fillwright-")
        self.scene = bpy.data.scenes.new(_NAME)
        camera = self._keep(bpy.data.cameras.new(_NAME))
        self._camera = self.add(_NAME, camera)
        self.scene.camera = self._camera
        render, shading = self.scene.render, self.scene.display.shading
        render.engine = "BLENDER_WORKBENCH"
        render.film_transparent, render.dither_intensity = True, 0.0
        render.resolution_percentage, render.use_compositing, render.use_sequencer = 100, False, False
        shading.light, shading.show_shadows, shading.show_cavity = "FLAT", False, False
        shading.show_object_outline, shading.show_specular_highlight = False, False
        return self

    def __exit__(self, *_error: object) -> None:
        bpy.data.scenes.remove(self.scene)
        bpy.data.batch_remove(self._made)
        for name, had in self._had.items():
            owner = getattr(bpy.data, name)
            for new in set(owner) - had:
                owner.remove(new)
        self._folder.cleanup()

    def _keep(self, made: Any) -> Any:
        self._made.append(made)
        return made

    def add(self, name: str, data: bpy.types.ID) -> bpy.types.Object:
        """An object of ``data``, which goes when the studio goes."""
        if data not in self._made:
            self._keep(data)
        obj = self._keep(bpy.data.objects.new(name, data))
        self.scene.collection.objects.link(obj)
        return obj

    def show(self, shown: list[bpy.types.Object]) -> None:
        """Draw these objects and no others."""
        for obj in self.scene.collection.objects:
            obj.hide_render = obj not in shown

    def look(self, view: View, size: float, width: int, height: int) -> None:
        """Set the camera to ``view``; ``size`` is the length of everything there is to see."""
        camera = self._camera.data
        camera.sensor_fit = "HORIZONTAL"
        camera.type = "PERSP" if view.perspective else "ORTHO"
        back = 0.0
        if view.perspective:
            camera.lens_unit, camera.sensor_width = "MILLIMETERS", 36.0
            camera.lens = 18.0 / view.half_width
        else:
            camera.ortho_scale, back = 2.0 * view.half_width, 2.0 * size
        camera.clip_start, camera.clip_end = 1e-3 * size, 1e2 * size
        axes = [*zip(view.right, view.up, view.toward, view.eye + back * view.toward, strict=True), (0, 0, 0, 1)]
        self._camera.matrix_world = Matrix(axes)
        self.scene.render.resolution_x, self.scene.render.resolution_y = width, height

    def take(self, colour: str, smooth: bool, exact: bool) -> Any:
        """What the camera sees, (rows, columns, 4), 0 to 1, first row on top.

        ``colour``: VERTEX, OBJECT or TEXTURE; ``smooth`` edges or none; ``exact`` numbers, not display colours.
        """
        scene, path = self.scene, Path(self._folder.name) / ("picture.exr" if exact else "picture.png")
        scene.display.shading.color_type, scene.display.render_aa = colour, "8" if smooth else "OFF"
        scene.view_settings.view_transform = "Raw" if exact else "Standard"
        settings = scene.render.image_settings
        settings.file_format = "OPEN_EXR" if exact else "PNG"
        settings.color_mode, settings.color_depth = "RGBA", "16" if exact else "8"
        settings.exr_codec, settings.compression = "NONE", 0  # it is read again at once
        scene.render.filepath = str(path)
        bpy.ops.render.render(write_still=True, scene=scene.name)
        return self._read(path, exact)

    def take_in_strips(self, colour: str, smooth: bool, exact: bool) -> Steps[Any]:
        """As `take`, strip by strip from the top, in steps: a large picture takes seconds without a graphics card."""
        render = self.scene.render
        count = next(k for k in (4, 2, 1) if render.resolution_y % k == 0)
        render.use_border, render.use_crop_to_border = True, True
        strips = []
        for strip in range(count):
            render.border_min_y, render.border_max_y = 1 - (strip + 1) / count, 1 - strip / count
            strips.append(self.take(colour, smooth, exact))
            yield
        render.use_border = False
        return np.concatenate(strips)

    def _read(self, path: Path, exact: bool) -> Any:
        image = bpy.data.images.load(str(path))
        try:
            if exact:
                image.colorspace_settings.name = "Non-Color"
            columns, rows = image.size
            pixels = np.empty(rows * columns * 4, dtype=np.float32)
            image.pixels.foreach_get(pixels)
        finally:
            bpy.data.images.remove(image)
        return pixels.reshape(rows, columns, 4)[::-1]

    def draw(self, drawing: Drawing) -> Any:
        """A drawing as (rows, columns, 4) with its transparency, 0 to 1, first row on top."""
        shown = [self._shape(shape, _APART * k) for k, shape in enumerate(drawing.shapes)]
        self.show(shown)
        middle = np.array([drawing.width / 2, -drawing.height / 2, 0.0])
        axes = np.eye(3)
        view = View("page", "", axes[0], axes[1], axes[2], middle, drawing.width / 2)
        size = max(drawing.width, _APART * (len(shown) + 1))
        fine = 2 if drawing.width < _LARGE else 1  # small letters need more than Workbench's own smoothing
        self.look(view, size, fine * round(drawing.width), fine * round(drawing.height))
        pixels = self.take("OBJECT", smooth=True, exact=False)
        pixels[..., 3] = np.clip(pixels[..., 3] * (255 / 253), 0.0, 1.0)  # Workbench's full cover comes as 253 or 254
        return smaller(pixels, fine)

    def _shape(self, shape: Shape, z: float) -> bpy.types.Object:
        if isinstance(shape, Polygon):
            obj = self.add("Area", face_of(shape))
            colour = shape.fill
        elif isinstance(shape, Line):
            obj = self.add("Line", stroke_of(shape))
            colour = shape.colour
        else:
            obj = self.add("Text", text_of(shape))
            obj.location = (shape.x, -shape.y, 0.0)
            colour = shape.colour
        obj.location.z = z
        obj.color = (*linear(np.array(colour) / 255).tolist(), 1.0)
        return obj
