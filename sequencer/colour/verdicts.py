"""A word for how two prints meet: blurs, gentle, clear or jumps; where each begins, and why.

**Blurs.** A strip a quarter of an inch wide, seen from 43 in (1.1 m), subtends a third of a
degree. At that size half of the people asked part two colours only from 7 L*, 10 a* or 14 b* on
(Stone, Albers Szafir, Setlur, "An engineering model for color difference as a function of size",
Color and Imaging Conference 2014: 5.08 + 0.75/s, 5.34 + 1.54/s, 5.35 + 2.87/s at s degrees); from
farther away it takes more. So neighbours whose means lie within ΔE00 10 and 7 L* read as one.

**Jumps.** A step without any colour in common costs 30 or more (see the parts of the cost in
:mod:`sequencer.colour.meeting`): that is a jump in every box. In a box of close tones a step twice
as dear as is usual there is one too, but nothing below 18: half the colour still shared.

**Clear or gentle.** Between the two, a step is clear from ΔE00 20 or 12 L* on, somewhat more than
one Munsell value step (10 L*), and gentle below. That border is common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

BLURS_DELTA_E = 10.0
BLURS_VALUE = 7.0
CLEAR_DELTA_E = 20.0
CLEAR_VALUE = 12.0
JUMP_FLOOR = 18.0
JUMP_CEILING = 30.0
JUMP_RATIO = 2.0
HELPS = 0.85
"""A print laid into a jump helps when the larger of its two steps is at most this part of it."""
DISTINCT = 6.0
"""Cost below which two palettes are near duplicates: every colour has a partner about 5 away."""


def jump_threshold(step_costs: ArrayLike) -> float:
    """The cost from which a step is a jump in this set of prints.

    ``step_costs``: the costs of the steps this box can make at best, its minimum spanning tree's.
    """
    steps = np.asarray(step_costs, dtype=float)
    usual = JUMP_RATIO * float(np.median(steps)) if steps.size else JUMP_CEILING
    return round(min(max(usual, JUMP_FLOOR), JUMP_CEILING), 6)


def verdicts(delta_e: ArrayLike, value_step: ArrayLike, cost: ArrayLike, jump: float) -> list[str]:
    """The word for each of P steps: ΔE00 as strips, value step (L*, either sign), cost."""
    colour, value, price = (np.asarray(x, dtype=float) for x in (delta_e, np.abs(value_step), cost))
    blurs = (colour < BLURS_DELTA_E) & (value < BLURS_VALUE)
    clear = (colour >= CLEAR_DELTA_E) | (value >= CLEAR_VALUE)
    words = np.select([blurs, price >= jump, clear], ["blurs", "jumps", "clear"], "gentle")
    return [str(word) for word in words]
