"""How two palettes meet side by side: the transition cost and its parts.

Hand-over is a partial match, not an average: two prints pass the eye along when a good part of
the one's colour is in the other as well, whatever else each of them holds. So the cost rests on
partial transport of the palettes (:mod:`sequencer.colour.transport`). Between two colours stands
HyAB (Abasi, Tehran, Fairchild 2020), the difference that stays uniform over large steps, bent
beyond BEND: two colours that have nothing to do with each other are little better for being
nearer, and one loud accent must not outweigh a match (compare the thresholded ground distances of
Pele and Werman, "Fast and robust earth mover's distances", ICCV 2009).

Parts, all in HyAB units (10 are about one Munsell value step):

``hand_over``  price a unit of the cheapest 20, 30, 40 and 50 % of the colour mass, averaged
``unshared``   10 × the share of colour that finds no partner within SAME_COLOUR
``whole``      transport of the whole palettes, for accents do catch the eye
``value``      step in L* between the means

The blend is :data:`WEIGHTS`; ``benchmarks/transition.py`` holds the evidence. Recovery of known
sequences rests on ``hand_over``; each of the others moves it by a point at most. ``unshared`` is
there so that a step without a common colour is plainly dearer than one with, ``whole`` and
``value`` decide between prints that hand over alike. The numbers sit on a plateau: BEND from 20
to 32, its slope from 0.1 to 0.5 and SAME_COLOUR from 12 to 19 change recovery by a point or less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sequencer.colour.differences import ciede2000, hyab
from sequencer.colour.spaces import Floats
from sequencer.colour.transport import partial_transport, whole_masses
from sequencer.models import Print

HAND_OVER_SHARES = (0.2, 0.3, 0.4, 0.5)
SAME_COLOUR = 15.0
BEND = 25.0
BENT_SLOPE = 0.25
WEIGHTS = {"hand_over": 1.0, "unshared": 1.5, "whole": 0.05, "value": 0.03}
DECIMALS = 6

_CHUNK = 20_000


@dataclass(frozen=True)
class Palettes:
    """N palettes of up to m colours: ``labs`` (N, m, 3), ``masses`` (N, m), ``means`` (N, 3)."""

    labs: Floats
    masses: Floats
    means: Floats

    @classmethod
    def of(
        cls,
        labs: Sequence[ArrayLike],
        shares: Sequence[ArrayLike],
        means: ArrayLike,
    ) -> Palettes:
        """From ragged lists; short palettes are filled up with colours of no mass."""
        longest = max((len(np.asarray(row)) for row in shares), default=1)
        lab_rows = np.zeros((len(shares), longest, 3))
        share_rows = np.zeros((len(shares), longest))
        for row, (colours, parts) in enumerate(zip(labs, shares, strict=True)):
            count = len(np.asarray(parts))
            lab_rows[row, :count] = colours
            share_rows[row, :count] = parts
        return cls(lab_rows, whole_masses(share_rows), np.asarray(means, dtype=float))


def palettes_of(prints: Sequence[Print]) -> Palettes:
    """The prints' colours as arrays; a print without a palette counts as its mean."""
    return Palettes.of(
        [[c.lab for c in one.palette] or [one.mean_lab] for one in prints],
        [[c.share for c in one.palette] or [1.0] for one in prints],
        np.array([one.mean_lab for one in prints], dtype=float).reshape(-1, 3),
    )


def strip_difference(
    prints: Sequence[Print],
    first: NDArray[np.intp],
    second: NDArray[np.intp],
    delta_e: Floats,
) -> Floats:
    """How far two prints lie apart as narrow strips: ΔE00 of the means, and how evenly they read.

    A print whose motif is larger than the strip changes along it (``spread``, ΔE of strip-sized
    patches from their mean); beside an even print of the same mean it is still told apart. The
    two differences are at right angles to each other. Where a spread is unknown the means decide.
    """
    spread = np.array([np.nan if one.spread is None else one.spread for one in prints], dtype=float)
    uneven = np.nan_to_num(spread[first] - spread[second]) if len(first) else np.zeros(0)
    return np.asarray(np.hypot(delta_e, uneven))


@dataclass(frozen=True)
class Meetings:
    """P pairs of palettes: the cost, its unweighted parts and the plain figures, (P,) each."""

    cost: Floats
    hand_over: Floats
    unshared: Floats
    whole: Floats
    value: Floats
    delta_e: Floats
    shared: Floats


def bent(difference: Floats) -> Floats:
    """A HyAB difference as it counts: in full up to BEND, by BENT_SLOPE beyond. Still a metric."""
    counts: Floats = np.minimum(difference, BEND + BENT_SLOPE * (difference - BEND))
    return counts


def meet(
    palettes: Palettes,
    first: NDArray[np.intp],
    second: NDArray[np.intp],
) -> Meetings:
    """Every pair ``first[p]``, ``second[p]``; costs are rounded so that ties are true ties."""
    count = len(first)
    curve = np.zeros((count, len(HAND_OVER_SHARES) + 1))
    shared = np.zeros(count)
    for start in range(0, count, _CHUNK):
        part = slice(start, start + _CHUNK)
        a, b = first[part], second[part]
        run = partial_transport(
            bent(hyab(palettes.labs[a][:, :, None, :], palettes.labs[b][:, None, :, :])),
            palettes.masses[a],
            palettes.masses[b],
            shares=(*HAND_OVER_SHARES, 1.0),
            ceiling=SAME_COLOUR,
        )
        curve[part], shared[part] = run.curve, run.moved
    parts = {
        "hand_over": (curve[:, :-1] / np.array(HAND_OVER_SHARES)).mean(axis=1),
        "unshared": 10.0 * (1.0 - shared),
        "whole": curve[:, -1],
        "value": np.abs(palettes.means[first, 0] - palettes.means[second, 0]),
    }
    cost = sum((WEIGHTS[name] * parts[name] for name in WEIGHTS), np.zeros(count))
    delta_e = ciede2000(palettes.means[first], palettes.means[second]) if count else np.zeros(0)
    rounded = {name: np.round(part, DECIMALS) for name, part in parts.items()}
    return Meetings(
        cost=np.round(cost, DECIMALS),
        delta_e=np.round(delta_e, DECIMALS),
        shared=np.round(shared, DECIMALS),
        **rounded,
    )
