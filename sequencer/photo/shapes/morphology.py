"""Growing and shrinking of masks by whole rows at once.

A window's maximum is doubled up from shorter windows' (van Herk's aim, 1992, by whole-array steps,
which a processor does many bytes at a time); a disk or a diamond is such windows row by row.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Bytes = NDArray[np.uint8]


def square_closed(mask: Mask, radius: int) -> Mask:
    """Closed by a square of 2 ``radius`` + 1; what lies beyond the picture is empty."""
    size = 2 * radius + 1
    grown = np.pad(mask.view(np.uint8), 2 * radius)
    for axis in (0, 1):
        grown = windows(np.maximum, grown, size, axis)
    for axis in (0, 1):
        grown = windows(np.minimum, grown, size, axis)
    return np.asarray(grown.view(np.bool_) | mask)


def local_maximum(values: Bytes, radius: int) -> Bytes:
    """Largest value in the square of 2 ``radius`` + 1 around each pixel."""
    grown = np.pad(values, radius)
    for axis in (0, 1):
        grown = windows(np.maximum, grown, 2 * radius + 1, axis)
    return grown


def windows(step: np.ufunc, values: NDArray[Any], size: int, axis: int) -> NDArray[Any]:
    """``step`` (maximum or minimum) over every window of ``size`` along an axis, size - 1 fewer."""
    out, width = values, 1
    while width < size:
        shift = min(width, size - width)
        count = out.shape[axis] - shift
        first, second = ((slice(None),) * axis + (part,)
                         for part in (slice(0, count), slice(shift, None)))  # fmt: skip
        out = step(out[first], out[second])
        width += shift
    return out


def disk(radius: int) -> list[int]:
    """Half widths of a disk's rows, from its middle outward."""
    return [int(np.sqrt(radius * radius + 0.5 - y * y)) for y in range(radius + 1)]


def diamond(radius: int) -> list[int]:
    """Half widths of the rows of a cross grown ``radius`` times."""
    return [radius - y for y in range(radius + 1)]


def opened(mask: Mask, rows: Sequence[int]) -> Mask:
    """Opened by a figure of these half widths (see :func:`disk`)."""
    return dilated(eroded(mask, rows), rows)


def dilated(mask: Mask, rows: Sequence[int]) -> Mask:
    """Grown by a figure of these half widths."""
    return _by_rows(np.maximum, mask, rows)


def eroded(mask: Mask, rows: Sequence[int]) -> Mask:
    """Shrunk by a figure of these half widths; what lies beyond the picture is empty."""
    return _by_rows(np.minimum, mask, rows)


def _by_rows(step: np.ufunc, mask: Mask, rows: Sequence[int]) -> Mask:
    reach = max(len(rows) - 1, max(rows))
    padded = np.pad(mask.view(np.uint8), reach)
    height, width = mask.shape
    by_width: dict[int, Bytes] = {}
    out: Bytes | None = None
    for y, half in enumerate(rows):
        if half not in by_width:
            run = padded[:, reach - half : reach + width + half]
            by_width[half] = windows(step, run, 2 * half + 1, 1)
        for shift in {y, -y}:
            part = by_width[half][reach + shift : reach + shift + height]
            out = part.copy() if out is None else step(out, part, out=out)
    assert out is not None
    return out.view(np.bool_)
