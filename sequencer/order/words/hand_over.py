"""Why two prints go together: the colours they hand over, as parts of both palettes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour import strip_units
from sequencer.colour.meeting import BLURS, PARTNERS, bent
from sequencer.colour.names import plain_name, shade
from sequencer.colour.transport import partial_transport, whole_masses
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
    (lab_a, mass_a), (lab_b, mass_b) = _palette(a), _palette(b)
    labs = (lab_a, lab_b)
    distance = strip_units(labs[0][:, None, :], labs[1][None, :, :])
    shared = partial_transport(
        bent(distance)[None], mass_a, mass_b, ceilings=tuple(bent(PARTNERS).tolist())).moved.mean()
    flow = partial_transport(
        distance[None], mass_a, mass_b, ceilings=(ALIKE,), with_flow=True).flow
    assert flow is not None
    found = sorted(zip(*np.nonzero(flow[0] >= _TRIFLE), strict=True), key=lambda ij: -flow[0][ij])
    parts = [_part(labs, flow[0], distance, int(i), int(j)) for i, j in found]
    return {
        "a": a.id,
        "b": b.id,
        "shared": round(float(shared), 6),
        "parts": parts,
        "text": _sentence(a, b, parts) if parts else _nearest(a, b, labs, distance),
    }


def _palette(one: Print) -> tuple[Any, Any]:
    labs = np.array([c.lab for c in one.palette] or [one.mean_lab], dtype=float)
    return labs, whole_masses([[c.share for c in one.palette] or [1.0]])


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
