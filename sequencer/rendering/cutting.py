"""Which stretch of which cloth each patch is, as in real cutting; and long strips for edges.

Strips lie on the scrap one below the other, along its length. Each column takes the next slices
of the strip set from left to right, so patches of one print in one column are neighbours on the
cloth, and no two patches show the same stretch. Where the photograph shows too little cloth, it
goes on as its mirror image, each further round shifted along.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.models import Plan
from sequencer.rendering.textures import Light, mirrored

_GOLDEN = (5**0.5 - 1) / 2
_CANDIDATES = 16
_OVERLAP = 60


@dataclass
class Cutter:
    """Takes slice after slice of one print's cloth; lengths in inches, cloth in pixels."""

    cloth: Light
    ppi: float
    strip: float
    seam: float
    along: float = 0.0
    strips: int = 0

    def next_patch(self, cut_width: float, width: int, height: int) -> Light:
        """The next slice of this print, its seam allowances trimmed away: (height, width, 3)."""
        length = self.cloth.shape[1] / self.ppi
        if self.along and self.along + cut_width > length:
            self.along, self.strips = 0.0, self.strips + 1
        top = self.strips * (self.strip + 2 * self.seam) + self.seam
        rounds = int(top * self.ppi // self.cloth.shape[0])
        left = self.along + self.seam + _GOLDEN * rounds * cut_width
        self.along += cut_width
        rows, columns = self.cloth.shape[:2]
        return mirrored(
            self.cloth,
            _off_the_fold(round(top * self.ppi), height, rows),
            _off_the_fold(round(left * self.ppi), width, columns),
            height,
            width,
        )


def _off_the_fold(start: int, size: int, span: int) -> int:
    """Move a window that would show the cloth and its mirror image just past the fold."""
    over = start % span + size - span
    return start + size - over if 0 < over < size <= span else start


def cutter(
    plan: Plan, name: str, cloth: Light, ppi: float, rng: np.random.Generator
) -> Cutter:
    """The cutter of one print of the plan; cloth too small for one patch is grown first."""
    strip = float(plan.finished_strip[name])
    wide = round(float(max(column.finished_width for column in plan.columns)) * ppi) + 2
    tall = round(strip * ppi) + 2
    if cloth.shape[0] < tall or cloth.shape[1] < wide:
        size = (max(cloth.shape[1], 2 * wide), max(cloth.shape[0], 2 * tall))
        cloth = long_strip(cloth, *size, rng)
    return Cutter(cloth, ppi, strip, float(plan.seam))


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
