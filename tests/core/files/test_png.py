"""PNG files as VTK's reader sees them: another library's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import vtk
from vtk.util.numpy_support import vtk_to_numpy

from core.errors import InputError
from core.files.png import png


def read(path: Path) -> np.ndarray:
    """Rows from the top, as VTK (libpng) reads them; its own rows run from the bottom."""
    reader = vtk.vtkPNGReader()
    reader.SetFileName(str(path))
    reader.Update()
    image = reader.GetOutput()
    columns, rows, _ = image.GetDimensions()
    values = vtk_to_numpy(image.GetPointData().GetScalars())
    return values.reshape(rows, columns, -1)[::-1]


@pytest.mark.parametrize("shape", [(1, 1), (1, 7), (7, 1), (40, 61)])
def test_every_pixel_comes_back(shape: tuple[int, int], tmp_path: Path) -> None:
    pixels = np.random.default_rng(1).integers(0, 256, (*shape, 3)).astype(np.uint8)
    path = tmp_path / "a.png"
    path.write_bytes(png(pixels, 297.0))
    np.testing.assert_array_equal(read(path), pixels)


def test_flat_colours_pack_well_and_the_print_size_is_kept() -> None:
    """pHYs, W3C PNG 11.3.4.3: pixels a metre across and down, then 1 for metres. A4 across is 0.297 m."""
    data = png(np.full((500, 594, 3), 200, dtype=np.uint8), 297.0)
    assert len(data) < 5000
    place = data.index(b"pHYs") + 4
    assert data[place : place + 9] == (2000).to_bytes(4, "big") * 2 + b"\1"
    assert b"pHYs" not in png(np.zeros((2, 2, 3), dtype=np.uint8))


@pytest.mark.parametrize(
    ("shape", "kind"), [((4, 4), np.uint8), ((4, 4, 4), np.uint8), ((4, 4, 3), np.float64), ((4, 0, 3), np.uint8)]
)
def test_what_is_no_picture_is_refused(shape: tuple[int, ...], kind: type) -> None:
    pixels = np.zeros(shape, dtype=kind)
    with pytest.raises(InputError, match="red, green, blue are wanted"):
        png(pixels)
