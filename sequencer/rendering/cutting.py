"""Which stretch of which cloth each patch is, as in real cutting.

Strips lie on the scrap one below the other, along its length. Each column takes the next slices
of the strip set from left to right, so patches of one print in one column are neighbours on the
cloth, and no two patches show the same stretch. Where the photograph shows too little cloth, it
goes on as its mirror image, each further round shifted along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Plan
from sequencer.rendering.growing import long_strip
from sequencer.rendering.placing import Geometry
from sequencer.rendering.textures import Cloth, chance, light_of, woven

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
_GOLDEN = (5**0.5 - 1) / 2


@dataclass(frozen=True)
class Strips:
    """One print's strips on its cloth; lengths in inches, cloth in pixels.

    ``tall``: pixels that a strip shows.
    """

    cloth: Cloth
    ppi: float
    strip: float
    seam: float
    tall: int

    def corners(self, cuts: Sequence[float], widths: Ints) -> tuple[Ints, Ints]:
        """Where slice after slice shows, seam allowances trimmed away: tops and lefts, in pixels.

        ``cuts``: their cut widths; ``widths``: the pixels they show. A corner past the cloth's
        edge lies on its mirror image.
        """
        rows, columns = self.cloth.shape[:2]
        along, strip = _laid(cuts, columns / self.ppi)
        tops = (strip * (self.strip + 2 * self.seam) + self.seam) * self.ppi
        rounds = tops // rows
        lefts = (along + self.seam + _GOLDEN * rounds * np.asarray(cuts)) * self.ppi
        tall = np.full(len(tops), self.tall)
        return _off_the_fold(tops, tall, rows), _off_the_fold(lefts, widths, columns)


def _laid(cuts: Sequence[float], length: float) -> tuple[Floats, Floats]:
    """How far along which strip each slice begins; a new strip where it would not end in time."""
    along, strip, places, strips = 0.0, 0, [], []
    for cut in cuts:
        if along and along + cut > length:
            along, strip = 0.0, strip + 1
        places.append(along)
        strips.append(strip)
        along += cut
    return np.array(places), np.array(strips, dtype=float)


def _off_the_fold(starts: Floats, sizes: Ints, span: int) -> Ints:
    """Windows that would show the cloth and its mirror image, moved just past the fold."""
    first: Ints = np.rint(starts).astype(np.int64)
    over = first % span + sizes - span
    split = (over > 0) & (over < sizes) & (sizes <= span)
    return np.where(split, first + sizes - over, first)


def strips_of(plan: Plan, places: Geometry, name: str, cloth: Cloth) -> Strips:
    """The strips of one print of the plan; cloth too small for one patch is grown first."""
    tall = places.strip[name] + 2
    wide = max(b - a for a, b in pairwise(places.lefts)) + 2
    if cloth.shape[0] < tall or cloth.shape[1] < wide:
        size = (max(cloth.shape[1], 2 * wide), max(cloth.shape[0], 2 * tall))
        cloth = woven(long_strip(light_of(cloth), *size, chance(name)))
    strip = float(plan.finished_strip[name])
    return Strips(cloth, places.ppi, strip, float(plan.seam), places.strip[name])
