"""Why two prints go together: the colours they hand over, as parts of both palettes."""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.colour import hyab
from sequencer.colour.meeting import SAME_COLOUR
from sequencer.colour.names import plain_name
from sequencer.colour.transport import partial_transport, whole_masses
from sequencer.models import Json, Lab, Print

_TRIFLE = 0.02


def colour_word(lab: Lab) -> str:
    """A plain colour word for one CIELAB colour."""
    return plain_name(lab)


def hand_over(a: Print, b: Print) -> Json:
    """Which colours two prints hand over.

    ``shared``: share of the colour that finds a partner within SAME_COLOUR (HyAB), 0 to 1.
    ``parts``: the match, largest first; each with ``share`` of the cloth, ``lab_a`` and ``lab_b``,
    ``index_a`` and ``index_b`` (places in the two palettes, so that a face can show them on the
    swatches), ``difference`` (HyAB) and ``colour`` in plain words. ``text``: one sentence. The
    parts are the optimal partial transport of the palettes (Rubner, Tomasi, Guibas 2000).
    """
    labs, masses = zip(*(_palette(one) for one in (a, b)), strict=True)
    distance = hyab(labs[0][:, None, :], labs[1][None, :, :])
    run = partial_transport(
        distance[None], masses[0], masses[1], ceiling=SAME_COLOUR, with_flow=True
    )
    assert run.flow is not None
    flow = run.flow[0]
    found = sorted(zip(*np.nonzero(flow >= _TRIFLE), strict=True), key=lambda ij: -flow[ij])
    parts = [_part(labs, flow, distance, int(i), int(j)) for i, j in found]
    return {
        "a": a.id,
        "b": b.id,
        "shared": round(float(run.moved[0]), 6),
        "parts": parts,
        "text": _sentence(a, b, parts),
    }


def _palette(one: Print) -> tuple[Any, Any]:
    labs = np.array([c.lab for c in one.palette] or [one.mean_lab], dtype=float)
    return labs, whole_masses([[c.share for c in one.palette] or [1.0]])


def _part(labs: Any, flow: Any, distance: Any, i: int, j: int) -> Json:
    middle = (labs[0][i] + labs[1][j]) / 2
    return {
        "share": round(float(flow[i, j]), 4),
        "colour": colour_word((float(middle[0]), float(middle[1]), float(middle[2]))),
        "lab_a": [round(float(x), 4) for x in labs[0][i]],
        "lab_b": [round(float(x), 4) for x in labs[1][j]],
        "index_a": i,
        "index_b": j,
        "difference": round(float(distance[i, j]), 3),
    }


def _sentence(a: Print, b: Print, parts: list[Json]) -> str:
    words = list(dict.fromkeys(part["colour"] for part in parts))[:3]
    if not words:
        return f"“{a.name}” and “{b.name}” have no colour in common."
    if len(words) == 1:
        return f"The {words[0]} is in both “{a.name}” and “{b.name}”."
    listed = ", the ".join(words[:-1]) + f" and the {words[-1]}"
    return f"The {listed} are in both “{a.name}” and “{b.name}”."
