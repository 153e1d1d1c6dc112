"""Pixels → a PNG file's bytes, quicker than a general encoder (ISO/IEC 15948, PNG third edition).

Photographed cloth repeats nothing, so no repeats are looked for, and of the five ways to foretell
a pixel the mean of its left and upper neighbours is taken for every row: as small as trying all
five on each, in a quarter of the time.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_EIGHT_BIT_RGB = struct.pack(">5B", 8, 2, 0, 0, 0)
_AVERAGE = 3


def png_of(pixels: NDArray[np.uint8]) -> bytes:
    """The PNG file of ``pixels`` (h, w, 3), 8 bits a channel."""
    height, width = pixels.shape[:2]
    size = struct.pack(">2I", width, height)
    packer = zlib.compressobj(1, zlib.DEFLATED, strategy=zlib.Z_HUFFMAN_ONLY)
    lines = packer.compress(_foretold(pixels).data) + packer.flush()
    chunks = ((b"IHDR", size + _EIGHT_BIT_RGB), (b"IDAT", lines), (b"IEND", b""))
    return _SIGNATURE + b"".join(_chunk(kind, data) for kind, data in chunks)


def _foretold(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Each row's filter and its bytes less the mean of what is left of and above them, rounded
    down; beyond the picture is 0."""
    height, width = pixels.shape[:2]
    bordered = np.zeros((height + 1, 3 * width + 3), np.uint8)
    bordered[1:, 3:] = pixels.reshape(height, -1)
    above, left = bordered[:-1, 3:], bordered[1:, :-3]
    lines = np.empty((height, 3 * width + 1), np.uint8)
    lines[:, 0] = _AVERAGE
    np.subtract(bordered[1:, 3:], (above & left) + ((above ^ left) >> 1), out=lines[:, 1:])
    return lines


def _chunk(kind: bytes, data: bytes) -> bytes:
    told = kind + data
    return struct.pack(">I", len(data)) + told + struct.pack(">I", zlib.crc32(told))
