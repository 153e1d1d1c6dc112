"""Why two prints go together: the colours they hand over, as parts of both palettes."""

from __future__ import annotations

from collections.abc import Sequence as List
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour import strip_units
from sequencer.colour.meeting import BLURS, PARTNERS, bent, palettes_of
from sequencer.colour.names import plain_name, shade
from sequencer.colour.spaces import Floats
from sequencer.colour.transport import partial_transport
from sequencer.models import Json, Print

ALIKE = PARTNERS[1]
"""Strip units within which two colours are told as partners."""
SAME = 0.6 * BLURS
"""Strip units within which they are called the same colour: less than a small strip can show."""
_TRIFLE = 0.02


def colour_word(lab: ArrayLike) -> str:
    """A plain colour word for one CIELAB colour (3,)."""
    return plain_name(lab)


def hand_over(a: Print, b: Print) -> Json:
    """Which colours two prints hand over.

    ``shared``: share of the colour that finds a partner, as in the cost, 0 to 1. ``parts``: the
    match within ALIKE, largest first; each with ``share`` of the cloth, ``lab_a`` and ``lab_b``,
    ``index_a`` and ``index_b`` (places in the two palettes, so that a face can show them on the
    swatches), ``difference`` (strip units) and ``colour`` in plain words. ``text``: one sentence.
    The parts are the optimal partial transport of the palettes (Rubner, Tomasi, Guibas 2000).
    """
    return hand_overs([(a, b)])[0]


def hand_overs(pairs: List[tuple[Print, Print]]) -> list[Json]:
    """The same for many pairs, their transport found at once."""
    prints = list({one.id: one for pair in pairs for one in pair}.values())
    place = {one.id: k for k, one in enumerate(prints)}
    palettes = palettes_of(prints)
    first, second = (np.array([place[pair[k].id] for pair in pairs], np.intp) for k in (0, 1))
    distance = strip_units(palettes.labs[first][:, :, None], palettes.labs[second][:, None])
    masses = palettes.masses[first], palettes.masses[second]
    shared = partial_transport(
        bent(distance), *masses, ceilings=tuple(bent(PARTNERS).tolist())).moved.mean(axis=1)
    flow = partial_transport(distance, *masses, ceilings=(ALIKE,), with_flow=True).flow
    assert flow is not None
    return [_told(*rows) for rows in zip(pairs, shared.tolist(), distance, flow, strict=True)]


def _told(pair: tuple[Print, Print], shared: float, distance: Floats, flow: Floats) -> Json:
    a, b = pair
    labs = [np.array([c.lab for c in one.palette] or [one.mean_lab], dtype=float) for one in pair]
    found = sorted(zip(*np.nonzero(flow >= _TRIFLE), strict=True), key=lambda ij: -flow[ij])
    parts = [_part(labs, flow, distance, int(i), int(j)) for i, j in found]
    distance = distance[: len(labs[0]), : len(labs[1])]
    return {
        "a": a.id,
        "b": b.id,
        "shared": round(float(shared), 6),
        "parts": parts,
        "text": _sentence(a, b, parts) if parts else _nearest(a, b, labs, distance),
    }


def _part(labs: Any, flow: Any, distance: Any, i: int, j: int) -> Json:
    middle = (labs[0][i] + labs[1][j]) / 2
    return {
        "share": round(float(flow[i, j]), 4),
        "colour": colour_word(middle),
        "lab_a": [round(float(x), 4) for x in labs[0][i]],
        "lab_b": [round(float(x), 4) for x in labs[1][j]],
        "index_a": i,
        "index_b": j,
        "difference": round(float(distance[i, j]), 3),
    }


def _sentence(a: Print, b: Print, parts: list[Json]) -> str:
    """What is in both; where the likest pair is no closer than two shades, it is said so."""
    same = [part for part in parts if part["difference"] < SAME]
    words = list(dict.fromkeys(part["colour"] for part in same))[:3]
    if not words:
        best = parts[0]
        return (f"The {colour_word(best['lab_a'])} of “{a.name}” finds "
                f"{shade(best['lab_a'], best['lab_b'])} in “{b.name}”.")
    if len(words) == 1:
        return f"The {words[0]} is in both “{a.name}” and “{b.name}”."
    listed = ", the ".join(words[:-1]) + f" and the {words[-1]}"
    return f"The {listed} are in both “{a.name}” and “{b.name}”."


def _nearest(a: Print, b: Print, labs: Any, distance: Any) -> str:
    """Nothing alike: the nearest two colours of one name, or of one family if they are nearest."""
    words = [[colour_word(lab) for lab in side] for side in labs]
    namesakes = np.array([[one == other for other in words[1]] for one in words[0]])
    gaps = np.where(namesakes, distance, np.inf) if namesakes.any() else distance
    i, j = np.unravel_index(int(gaps.argmin()), gaps.shape)
    if words[0][i].split()[-1] != words[1][j].split()[-1]:
        return f"“{a.name}” and “{b.name}” have no colour in common."
    return (f"“{a.name}” and “{b.name}” have no colour quite in common: the nearest to the "
            f"{words[0][i]} of the one is {shade(labs[0][i], labs[1][j])} in the other.")
