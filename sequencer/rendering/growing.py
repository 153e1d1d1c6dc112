"""Cloth grown beyond its photograph: strips however long or tall, without a visible repeat."""

from __future__ import annotations

import numpy as np

from sequencer.rendering.textures import Light

_CANDIDATES = 16
_OVERLAP = 60


def long_strip(cloth: Light, width: int, height: int, rng: np.random.Generator) -> Light:
    """A strip (height, width, 3) of this cloth however long or tall, without a visible repeat.

    Stretches of the cloth overlap and are parted along the path where they differ least: image
    quilting (Efros and Freeman, SIGGRAPH 2001), the best of a few stretches each time. Where the
    cloth is not tall enough, such strips are joined one below the other in the same way.
    """
    rows = cloth.shape[0]
    if rows >= height:
        return _run(cloth, width, height, rng)
    band = max(2, 4 * rows // 5)
    overlap = max(1, min(band // 3, _OVERLAP))
    sheet = _run(cloth, width, band, rng)
    while sheet.shape[0] < height:
        below = _run(cloth, width, band, rng)
        seam = _parted(sheet[-overlap:].swapaxes(0, 1), below[:overlap].swapaxes(0, 1))
        sheet = np.concatenate([sheet[:-overlap], seam.swapaxes(0, 1), below[overlap:]])
    return sheet[:height]


def _run(cloth: Light, width: int, height: int, rng: np.random.Generator) -> Light:
    """As long as wanted, no taller than the cloth."""
    span = cloth.shape[1]
    if span >= width:
        top = int(rng.integers(cloth.shape[0] - height + 1))
        left = int(rng.integers(span - width + 1))
        return cloth[top : top + height, left : left + width]
    overlap = max(1, min(span // 3, _OVERLAP))
    pieces = [_stretch(cloth, height, span, rng)]
    done = pieces[0].shape[1]
    while done < width:
        end = pieces[-1][:, -overlap:]
        tries = [_stretch(cloth, height, span, rng) for _ in range(_CANDIDATES)]
        misfit = [float(((piece[:, :overlap] - end) ** 2).sum()) for piece in tries]
        best = tries[int(np.argmin(misfit))]
        pieces[-1] = pieces[-1][:, :-overlap]
        pieces += [_parted(end, best[:, :overlap]), best[:, overlap:]]
        done += best.shape[1] - overlap
    return np.concatenate(pieces, axis=1)[:, :width]


def _stretch(cloth: Light, height: int, span: int, rng: np.random.Generator) -> Light:
    """Between half and all of the cloth's length, from a place and a way up left to chance."""
    width = int(rng.integers(max(3 * span // 4, 2), span + 1))
    top = int(rng.integers(cloth.shape[0] - height + 1))
    left = int(rng.integers(span - width + 1))
    piece = cloth[top : top + height, left : left + width]
    return piece[::-1, ::-1] if rng.random() < 0.5 else piece


def _parted(left: Light, right: Light) -> Light:
    """Join two overlapping pieces along the cheapest path from top to bottom, barely feathered."""
    cost = ((np.sqrt(left) - np.sqrt(right)) ** 2).sum(axis=2)
    padded = np.full((cost.shape[0], cost.shape[1] + 2), np.inf)
    total = padded[:, 1:-1]
    total[:] = cost
    for row in range(1, len(total)):
        before = padded[row - 1]
        total[row] += np.minimum(np.minimum(before[:-2], before[1:-1]), before[2:])
    path = np.empty(len(total), dtype=int)
    path[-1] = int(total[-1].argmin())
    for row in range(len(total) - 2, -1, -1):
        low = max(path[row + 1] - 1, 0)
        path[row] = low + int(total[row, low : path[row + 1] + 2].argmin())
    places = np.arange(left.shape[1])
    share = np.clip((places[None, :] - path[:, None]) / 3 + 0.5, 0.0, 1.0)[..., None]
    return np.asarray(left * (1 - share) + right * share, dtype=np.float32)
