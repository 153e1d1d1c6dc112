"""A word for how two prints meet: blurs, gentle, clear or jumps; where each begins, and why.

All four are read from the figures that the cost is made of, in the same strip units
(:mod:`sequencer.colour.meeting`): how far apart the prints lie as strips, their means, and what the
step costs.

**Blurs.** A strip a quarter of an inch wide, seen from 43 in (1.1 m), subtends a third of a
degree. At that size half of the people asked part two colours only from 7 L*, 10 a* or 14 b* on
(Stone, Albers Szafir, Setlur, "An engineering model for color difference as a function of size",
Color and Imaging Conference 2014: 5.08 + 0.75/s, 5.34 + 1.54/s, 5.35 + 2.87/s at s degrees); from
farther away it takes more. Those 7 L* are BLURS strip units; a* and b* come out a little wider.

**Jumps.** Three things together. Little is handed over: a step without any colour in common costs
JUMP_CEILING or more, and in a box of close tones twice the usual step is enough, but nothing below
JUMP_FLOOR, and no two prints that blur can cost that much. The strips are STRANGERS: farther apart
than any two colours that count as shared. And their means would not blur: two prints of one family
that melt into one colour from across the room do not break the flow, whatever they are made of.
So two of one Munsell hue are never strangers within a step of value and one of chroma, or within
two of chroma, in any box; two steps of value are a jump.

**Clear or gentle.** Between the two, a step is clear from twice the blur limit on, gentle below:
14 L* for greys, somewhat more than one Munsell value step (common practice, no source).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour.meeting import BLURS, FAR, STEEPEST, Meetings

CLEAR = 2.0 * BLURS
STRANGERS = FAR
"""Strip units apart (17.5 L*) below which nothing jumps: so far a colour may still be shared."""
JUMP_FLOOR = round(STEEPEST * BLURS + 0.5, 1)
"""Just above the most that two prints which blur can cost."""
JUMP_CEILING = 32.5
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


def verdicts(met: Meetings, jump: float) -> list[str]:
    """The word for each of P steps; ``jump`` is never below JUMP_FLOOR."""
    strange = (met.cost >= jump) & (met.apart >= STRANGERS) & (met.means >= BLURS)
    words = np.select([met.apart < BLURS, strange, met.apart >= CLEAR],
                      ["blurs", "jumps", "clear"], "gentle")
    return [str(word) for word in words]
