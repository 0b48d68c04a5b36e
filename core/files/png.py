"""Pixels as a PNG file, without any library."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError

_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def png(pixels: NDArray[np.uint8], width_mm: float | None = None) -> bytes:
    """A PNG of ``pixels`` (rows, columns, 3), sRGB 0 to 255, first row on top; ``width_mm`` is its width in print.

    Raises InputError for anything that is no picture. Source: W3C, Portable Network Graphics (third edition, 2025).

    >>> png(np.zeros((2, 3, 3), dtype=np.uint8))[16:24].hex()  # width and height
    '0000000300000002'
    >>> png(np.zeros((0, 3, 3), dtype=np.uint8))
    Traceback (most recent call last):
    ...
    core.errors.InputError: picture: pixels (0, 3, 3) of uint8 came; rows and columns of red, green, blue are wanted
    """
    if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.size == 0 or pixels.dtype != np.uint8:
        raise InputError(
            f"picture: pixels {pixels.shape} of {pixels.dtype} came; rows and columns of red, green, blue are wanted"
        )
    rows, columns, _ = pixels.shape
    parts = [_chunk(b"IHDR", struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)), _chunk(b"sRGB", b"\0")]
    if width_mm is not None:
        a_metre = round(columns / width_mm * 1000)
        parts.append(_chunk(b"pHYs", struct.pack(">IIB", a_metre, a_metre, 1)))
    parts += [_chunk(b"IDAT", zlib.compress(_filtered(pixels), 9)), _chunk(b"IEND", b"")]
    return _SIGNATURE + b"".join(parts)


def _filtered(pixels: NDArray[np.uint8]) -> bytes:
    """Each row as its difference from the row above (filter 2, "Up"), which packs flat colours well."""
    rows = len(pixels)
    lines = np.empty((rows, 1 + 3 * pixels.shape[1]), dtype=np.uint8)
    lines[:, 0] = 2
    flat = pixels.reshape(rows, -1)
    lines[0, 1:] = flat[0]
    lines[1:, 1:] = flat[1:] - flat[:-1]
    return lines.tobytes()


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
