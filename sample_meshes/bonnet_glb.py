"""A textured GLB file, as scanners' programs write it: metres, Y up, UV islands, nodes that move the mesh.

Source: Khronos glTF 2.0 specification (ISO/IEC 12113:2022), sections 3.6 to 3.10 and 4.4 (from memory).
"""

from __future__ import annotations

import json
import struct
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FLOAT, _USHORT = 5126, 5123
_FOR_VERTICES, _FOR_TRIANGLES = 34962, 34963


def glb(points: Floats, uv: Floats, triangles: Ints, nodes: list[dict[str, Any]], note: str) -> bytes:
    """The file's bytes: ``points`` (n, 3) m with ``uv`` (n, 2), n < 65 535; the last of ``nodes`` holds the mesh."""
    place, rows = points.astype("<f4"), triangles.astype("<u2").ravel()
    parts = [place.tobytes(), uv.astype("<f4").tobytes(), rows.tobytes(), _png(_primer())]
    views, body = [], b""
    for part, target in zip(parts, (_FOR_VERTICES, _FOR_VERTICES, _FOR_TRIANGLES, None), strict=True):
        view = {"buffer": 0, "byteOffset": len(body), "byteLength": len(part)}
        views.append(view if target is None else {**view, "target": target})
        body += _padded(part, b"\0")
    content = {
        "asset": {"version": "2.0", "extras": {"note": note}},
        "scene": 0, "scenes": [{"nodes": [0]}],
        "nodes": [*nodes[:-1], {**nodes[-1], "mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}, "indices": 2, "material": 0}]}],
        "materials": [{"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}, "metallicFactor": 0.2}}],
        "textures": [{"source": 0}], "images": [{"bufferView": 3, "mimeType": "image/png"}],
        "accessors": [
            {"bufferView": 0, "componentType": _FLOAT, "count": len(place), "type": "VEC3",
             "min": place.min(axis=0).tolist(), "max": place.max(axis=0).tolist()},
            {"bufferView": 1, "componentType": _FLOAT, "count": len(uv), "type": "VEC2"},
            {"bufferView": 2, "componentType": _USHORT, "count": len(rows), "type": "SCALAR"},
        ],
        "bufferViews": views, "buffers": [{"byteLength": len(body)}],
    }
    text = _padded(json.dumps(content).encode("ascii"), b" ")
    chunks = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(body), b"BIN\0") + body
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def _padded(part: bytes, filler: bytes) -> bytes:
    return part + filler * (-len(part) % 4)


def _primer() -> NDArray[np.uint8]:
    """A texture (64, 64, 3): mottled red oxide primer."""
    shade = np.random.default_rng(7).integers(-14, 15, (64, 64, 1))
    return (np.array([128, 66, 52]) + shade).astype(np.uint8)


def _png(pixels: NDArray[np.uint8]) -> bytes:
    """A PNG file of RGB pixels (h, w, 3). Source: ISO/IEC 15948."""
    high, wide, _ = pixels.shape
    lines = b"".join(b"\0" + line.tobytes() for line in pixels)
    header = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(lines, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    )
