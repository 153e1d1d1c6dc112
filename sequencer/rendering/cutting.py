"""Which stretch of which cloth each patch is, as in real cutting.

Strips lie on the scrap one below the other, along its length. Each column takes the next slices
of the strip set from left to right, so patches of one print in one column are neighbours on the
cloth, and no two patches show the same stretch. Where the photograph shows too little cloth, it
goes on as its mirror image, each further round shifted along.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sequencer.models import Plan
from sequencer.rendering.growing import long_strip
from sequencer.rendering.placing import Geometry
from sequencer.rendering.textures import Light

_GOLDEN = (5**0.5 - 1) / 2


@dataclass
class Cutter:
    """Takes slice after slice of one print's cloth; lengths in inches, cloth in pixels.

    ``tall``: pixels that a strip shows.
    """

    cloth: Light
    ppi: float
    strip: float
    seam: float
    tall: int
    along: float = 0.0
    strips: int = 0

    def next_corner(self, cut_width: float, width: int) -> tuple[int, int]:
        """Where the next slice shows, seam allowances trimmed away: top and left, in pixels.

        A corner past the cloth's edge lies on its mirror image.
        """
        length = self.cloth.shape[1] / self.ppi
        if self.along and self.along + cut_width > length:
            self.along, self.strips = 0.0, self.strips + 1
        top = self.strips * (self.strip + 2 * self.seam) + self.seam
        rows, columns = self.cloth.shape[:2]
        rounds = int(top * self.ppi // rows)
        left = self.along + self.seam + _GOLDEN * rounds * cut_width
        self.along += cut_width
        return (
            _off_the_fold(round(top * self.ppi), self.tall, rows),
            _off_the_fold(round(left * self.ppi), width, columns),
        )


def _off_the_fold(start: int, size: int, span: int) -> int:
    """Move a window that would show the cloth and its mirror image just past the fold."""
    over = start % span + size - span
    return start + size - over if 0 < over < size <= span else start


def cutter(
    plan: Plan, places: Geometry, name: str, cloth: Light, rng: np.random.Generator
) -> Cutter:
    """The cutter of one print of the plan; cloth too small for one patch is grown first."""
    tall = places.strip[name] + 2
    wide = max(b - a for a, b in pairwise(places.lefts)) + 2
    if cloth.shape[0] < tall or cloth.shape[1] < wide:
        size = (max(cloth.shape[1], 2 * wide), max(cloth.shape[0], 2 * tall))
        cloth = long_strip(cloth, *size, rng)
    strip = float(plan.finished_strip[name])
    return Cutter(cloth, places.ppi, strip, float(plan.seam), places.strip[name])
