"""How two palettes meet side by side: how far apart as strips, and what the step costs.

Hand-over is a partial match, not an average: two prints pass the eye along when a good part of
the one's colour is in the other as well, whatever else each of them holds. So the cost rests on
partial transport of the palettes (:mod:`sequencer.colour.transport`), between colours in strip
units (:mod:`sequencer.colour.differences`). There a difference is bent beyond BEND: two colours
that have nothing to do with each other are little better for being nearer, and one loud accent
must not outweigh a match (compare the thresholded ground distances of Pele and Werman, "Fast and
robust earth mover's distances", ICCV 2009).

Parts, all in strip units (17 are about one Munsell value step):

``hand_over``  price a unit of the cheapest 20, 30, 40 and 50 % of the colour mass, averaged
``unshared``   10 × the share of colour that finds no partner near by; how near is no sharp line:
               the share is averaged over the four distances in PARTNERS
``means``      between the mean colours, bent likewise, for the whole does catch the eye
``value``      step in L* between the means

The blend is :data:`WEIGHTS`; ``benchmarks/order/transition.py`` holds the evidence. How far apart
two prints lie as strips, ``apart``, is the transport of their whole palettes, unbent: a check of
black and white beside the grey it averages to is far from it, unless the cloth's ``spread`` says
that a strip of it reads as even. Every part of the cost but the value step is at most a known
multiple of the whole transport, so prints that blur can never cost as much as a jump; where a known
spread has taken pattern out of ``apart``, the cost is held to the same line (:func:`_held`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sequencer.colour.differences import ciede2000, strip_space
from sequencer.colour.spaces import Floats
from sequencer.colour.transport import partial_transport, whole_masses
from sequencer.models import Print

HAND_OVER_SHARES = (0.2, 0.3, 0.4, 0.5)
BLURS = 11.7
"""Strip units below which neighbouring strips read as one; see :mod:`sequencer.colour.verdicts`."""
PARTNERS = (BLURS, 1.5 * BLURS, 2.0 * BLURS, 2.5 * BLURS)
"""Two colours count as shared in full below the first distance, not at all beyond the last."""
BEND = 20.0
BENT_SLOPE = 0.25
WEIGHTS = {"hand_over": 1.0, "unshared": 1.5, "means": 0.05, "value": 0.03}
STEEPEST = (
    WEIGHTS["hand_over"] + WEIGHTS["means"]
    + 10.0 * WEIGHTS["unshared"] * float(np.mean([1.0 / near for near in PARTNERS]))
)
"""The cost, less its value part, is at most this times the whole transport (Markov's inequality
for ``unshared``; the cheapest part never costs more a unit than the whole)."""
FAR = PARTNERS[-1]
"""Beyond this ``apart`` decides nothing, and may be given as a lower bound."""
DECIMALS = 6

_CHUNK = 20_000


@dataclass(frozen=True)
class Palettes:
    """N palettes of up to m colours: ``labs`` (N, m, 3), ``masses`` (N, m), ``means`` (N, 3).

    ``spread`` (N,): ΔE of strip-sized patches from their mean, nan where it is not known.
    """

    labs: Floats
    masses: Floats
    means: Floats
    spread: Floats

    @classmethod
    def of(
        cls,
        labs: Sequence[ArrayLike],
        shares: Sequence[ArrayLike],
        means: ArrayLike,
        spread: ArrayLike | None = None,
    ) -> Palettes:
        """From ragged lists; short palettes are filled up with colours of no mass."""
        longest = max((len(np.asarray(row)) for row in shares), default=1)
        lab_rows = np.zeros((len(shares), longest, 3))
        share_rows = np.zeros((len(shares), longest))
        for row, (colours, parts) in enumerate(zip(labs, shares, strict=True)):
            count = len(np.asarray(parts))
            lab_rows[row, :count] = colours
            share_rows[row, :count] = parts
        known = np.full(len(shares), np.nan) if spread is None else np.asarray(spread, dtype=float)
        return cls(lab_rows, whole_masses(share_rows), np.asarray(means, dtype=float), known)


def palettes_of(prints: Sequence[Print]) -> Palettes:
    """The prints' colours as arrays; a print without a palette counts as its mean."""
    return Palettes.of(
        [[c.lab for c in one.palette] or [one.mean_lab] for one in prints],
        [[c.share for c in one.palette] or [1.0] for one in prints],
        np.array([one.mean_lab for one in prints], dtype=float).reshape(-1, 3),
        [np.nan if one.spread is None else one.spread for one in prints],
    )


@dataclass(frozen=True)
class Meetings:
    """P pairs of palettes: the cost, its unweighted parts and the plain figures, (P,) each.

    ``apart``: strip units, exact below FAR and a lower bound from there on.
    """

    cost: Floats
    hand_over: Floats
    unshared: Floats
    means: Floats
    value: Floats
    delta_e: Floats
    shared: Floats
    apart: Floats


def bent(difference: ArrayLike) -> Floats:
    """A difference as it counts: in full up to BEND, by BENT_SLOPE beyond. Still a metric."""
    units = np.asarray(difference, dtype=float)
    return np.asarray(np.minimum(units, BEND + BENT_SLOPE * (units - BEND)))


def meet(
    palettes: Palettes,
    first: NDArray[np.intp],
    second: NDArray[np.intp],
) -> Meetings:
    """Every pair ``first[p]``, ``second[p]``; costs are rounded so that ties are true ties."""
    count = len(first)
    spots, centres = strip_space(palettes.labs), strip_space(palettes.means)
    curve = np.zeros((count, len(HAND_OVER_SHARES)))
    shared = np.zeros(count)
    for start in range(0, count, _CHUNK):
        part = slice(start, start + _CHUNK)
        a, b = first[part], second[part]
        run = partial_transport(
            bent(_gaps(spots, a, b)), palettes.masses[a], palettes.masses[b],
            shares=HAND_OVER_SHARES, ceilings=tuple(bent(PARTNERS).tolist()),
        )
        curve[part], shared[part] = run.curve, run.moved.mean(axis=1)
    parts = {
        "hand_over": (curve / np.array(HAND_OVER_SHARES)).mean(axis=1),
        "unshared": 10.0 * (1.0 - shared),
        "means": bent(np.linalg.norm(centres[first] - centres[second], axis=-1)),
        "value": np.abs(palettes.means[first, 0] - palettes.means[second, 0]),
    }
    apart = _apart(palettes, spots, first, second)
    cost = sum((WEIGHTS[name] * parts[name] for name in WEIGHTS), np.zeros(count))
    cost = np.minimum(cost, _held(apart) + WEIGHTS["value"] * parts["value"])
    delta_e = ciede2000(palettes.means[first], palettes.means[second]) if count else np.zeros(0)
    rounded = {name: np.round(part, DECIMALS) for name, part in parts.items()}
    return Meetings(
        cost=np.round(cost, DECIMALS),
        delta_e=np.round(delta_e, DECIMALS),
        shared=np.round(shared, DECIMALS),
        apart=np.round(apart, DECIMALS),
        **rounded,
    )


def _gaps(spots: Floats, a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
    """(P, m, m) distances between the colours of each pair, by their three coordinates."""
    total = np.zeros((len(a), spots.shape[1], spots.shape[1]))
    for axis in range(3):
        step = spots[a, :, None, axis] - spots[b, None, :, axis]
        total += step * step
    return np.asarray(np.sqrt(total))


def _held(apart: Floats) -> Floats:
    """The most a step may cost beside its value part: by the line that holds for whole palettes
    while two prints blur, and four times as steep beyond, where it soon holds nothing back."""
    return np.asarray(STEEPEST * np.maximum(apart, 4.0 * apart - 3.0 * BLURS))


def _apart(
    palettes: Palettes, spots: Floats, first: NDArray[np.intp], second: NDArray[np.intp]
) -> Floats:
    """Transport of whole palettes as strips show them; pairs plainly far keep a lower bound.

    No match of two palettes costs less than the way between their centres of mass.
    """
    shares = palettes.masses / palettes.masses.sum(axis=1, keepdims=True)
    centre = (shares[..., None] * spots).sum(axis=1)
    away = np.linalg.norm(spots - centre[:, None], axis=-1)
    reach = (shares * away).sum(axis=1)
    units = palettes.spread * _UNITS_PER_DELTA_E
    shrunk = np.where(np.isfinite(units) & (reach > 0), units / np.where(reach > 0, reach, 1), 1.0)
    seen = centre[:, None] + np.minimum(shrunk, 1.0)[:, None, None] * (spots - centre[:, None])
    least = np.linalg.norm(centre[first] - centre[second], axis=-1)
    near = np.flatnonzero(least < FAR)
    for start in range(0, len(near), _CHUNK):
        some = near[start : start + _CHUNK]
        a, b = first[some], second[some]
        run = partial_transport(_gaps(seen, a, b), palettes.masses[a], palettes.masses[b])
        least[some] = np.maximum(run.curve[:, 0], least[some])
    return np.asarray(least)


_UNITS_PER_DELTA_E = BLURS / 10.0
"""Strip units in one ΔE00 of a spread: 10 ΔE00 are where strips stop blurring, as BLURS is."""
