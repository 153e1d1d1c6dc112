"""How the neighbours of a sequence meet: colour, value, and what other eyes see.

Value is L*. Where a strong colour looks lighter than its L* (the Helmholtz-Kohlrausch effect) that
is said beside it, after Fairchild and Pirrotta, "Predicting the lightness of chromatic object
colors using CIELAB", Color Res. Appl. 16 (1991). Colour-blind neighbours are simulated after
Machado, Oliveira and Fernandes (2009), see :mod:`sequencer.colour.vision`.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as List
from dataclasses import replace

import numpy as np

from sequencer.colour import ciede2000, lch
from sequencer.colour.meeting import Meetings, best_between, meet, palettes_of
from sequencer.colour.verdicts import (
    BLURS_DELTA_E,
    BLURS_VALUE,
    CLEAR_DELTA_E,
    CLEAR_VALUE,
    JUMP_CEILING,
    verdicts,
)
from sequencer.colour.vision import KINDS, simulate_lab
from sequencer.errors import SequenceError
from sequencer.models import ContrastReport, Json, Lab, Neighbours, Print, Sequence

WORST_PAIRS = 3
LOOKS_LIGHTER = 5.0

_EYES = {
    "protan": "red-blind (protan)",
    "deutan": "green-blind (deutan)",
    "tritan": "blue-blind (tritan)",
}


def contrast(prints: List[Print], sequence: Sequence) -> ContrastReport:
    """Each neighbouring pair in sewing order, and sentences for the worst.

    Figures that the sequence does not carry (it was found on a graph of costs alone) are worked
    out here from the prints. ``sentences`` names first pairs that blur, then jumps, worst first,
    then what value and colour vision add. ``vision`` holds, for each kind of colour-blind eyes,
    each pair's ΔE00 and whether it blurs; ``looks_lighter`` the prints that look lighter than
    their L* by more than LOOKS_LIGHTER.

    Raises:
        SequenceError: the sequence names a print that is not among ``prints``.
    """
    by_id = {one.id: one for one in prints}
    missing = [name for name in sequence.order if name not in by_id]
    if missing:
        raise SequenceError(f"the sequence names {missing[0]}, which is not among the prints")
    pairs = _completed(by_id, sequence)
    values = [by_id[name].value for name in sequence.order]
    vision = _vision(by_id, pairs)
    lighter = _looks_lighter([by_id[name] for name in sequence.order])
    return ContrastReport(
        pairs=pairs,
        sentences=(
            *_pair_sentences(by_id, sequence, pairs),
            *_lighter_sentences(by_id, lighter),
            *_vision_sentences(by_id, pairs, vision),
        ),
        value_range=round(max(values) - min(values), 6) if values else 0.0,
        vision=vision,
        looks_lighter=lighter,
    )


def looks_lighter_by(lab: Lab) -> float:
    """How much lighter than its L* a colour looks: L** − L* (Fairchild and Pirrotta 1991).

    L** = L* + (2.5 − 0.025 L*) (0.116 |sin((h − 90°)/2)| + 0.085) C*.
    """
    lightness, chroma, hue = (float(part) for part in lch(lab))
    by_hue = 0.116 * abs(float(np.sin(np.radians((hue - 90.0) / 2)))) + 0.085
    return (2.5 - 0.025 * lightness) * by_hue * chroma


# ── figures ───────────────────────────────────────────────────────────────────────────────


def _completed(by_id: Mapping[str, Print], sequence: Sequence) -> tuple[Neighbours, ...]:
    """The sequence's pairs with every figure filled in."""
    pairs = sequence.neighbours
    if all(pair.verdict is not None and pair.delta_e is not None for pair in pairs):
        return pairs
    found = _meetings(by_id, pairs)
    words = verdicts(found.delta_e, found.value, found.cost, JUMP_CEILING)
    return tuple(
        replace(
            pair,
            delta_e=float(found.delta_e[k]),
            value_step=float(by_id[pair.b].value - by_id[pair.a].value),
            shared=float(found.shared[k]),
            verdict=words[k],
        )
        for k, pair in enumerate(pairs)
    )


def _meetings(by_id: Mapping[str, Print], pairs: tuple[Neighbours, ...]) -> Meetings:
    place = {name: k for k, name in enumerate(by_id)}
    first = np.array([place[pair.a] for pair in pairs], dtype=np.intp)
    second = np.array([place[pair.b] for pair in pairs], dtype=np.intp)
    return meet(palettes_of(list(by_id.values())), first, second)


def _vision(by_id: Mapping[str, Print], pairs: tuple[Neighbours, ...]) -> Json:
    """For each kind of eyes, each pair's ΔE00 and value step, and whether it blurs."""
    a = np.array([by_id[pair.a].mean_lab for pair in pairs]).reshape(-1, 3)
    b = np.array([by_id[pair.b].mean_lab for pair in pairs]).reshape(-1, 3)
    seen: Json = {}
    for kind in KINDS:
        left, right = simulate_lab(a, kind), simulate_lab(b, kind)
        delta_e = np.round(ciede2000(left, right), 4) if len(pairs) else np.zeros(0)
        step = np.round(np.abs(left[:, 0] - right[:, 0]), 4)
        seen[kind] = [
            {"a": pair.a, "b": pair.b, "delta_e": float(d), "blurs": bool(blur)}
            for pair, d, blur in zip(
                pairs, delta_e, (delta_e < BLURS_DELTA_E) & (step < BLURS_VALUE), strict=True
            )
        ]
    return seen


def _looks_lighter(prints: List[Print]) -> dict[str, float]:
    by = {one.id: round(looks_lighter_by(one.mean_lab), 2) for one in prints}
    return {name: more for name, more in by.items() if more > LOOKS_LIGHTER}


# ── sentences ─────────────────────────────────────────────────────────────────────────────


def _pair_sentences(
    by_id: Mapping[str, Print], sequence: Sequence, pairs: tuple[Neighbours, ...]
) -> list[str]:
    blurs = sorted((p for p in pairs if p.verdict == "blurs"), key=lambda p: p.delta_e or 0.0)
    jumps = sorted((p for p in pairs if p.verdict == "jumps"), key=lambda p: -p.cost)
    return [
        *(_blur_sentence(by_id, sequence, pair) for pair in blurs[:WORST_PAIRS]),
        *(_jump_sentence(by_id, sequence, pair) for pair in jumps[:WORST_PAIRS]),
    ]


def _blur_sentence(by_id: Mapping[str, Print], sequence: Sequence, pair: Neighbours) -> str:
    a, b = by_id[pair.a], by_id[pair.b]
    return (
        f"From across the room “{a.name}” and “{b.name}” will read as one strip: "
        f"{_closeness(a, b)}. {_parting(by_id, sequence, a, b)}"
    )


def _closeness(a: Print, b: Print) -> str:
    if a.value == b.value:
        return "their colours are close and their value is the same"
    lighter = a if a.value > b.value else b
    step = abs(a.value - b.value)
    if step < 1:
        return "their colours are close and in value there is nothing between them"
    return f"their colours are close and “{lighter.name}” is lighter by only {step:.0f} of 100"


def _parting(by_id: Mapping[str, Print], sequence: Sequence, a: Print, b: Print) -> str:
    """What keeps two look-alikes apart: a print that still goes with both and differs from both."""
    between = _best_parting(by_id, sequence.left_out, a, b)
    if between is None:
        return "Put a lighter or darker print between them, or leave one of them out."
    return f"Put “{between.name}” between them, or leave one of them out."


def _best_parting(
    by_id: Mapping[str, Print], left_out: tuple[str, ...], a: Print, b: Print
) -> Print | None:
    box = [by_id[name] for name in left_out if name in by_id]
    apart = [
        one
        for one in box
        if min(abs(one.value - a.value), abs(one.value - b.value)) >= CLEAR_VALUE
        or ciede2000(one.mean_lab, np.array([a.mean_lab, b.mean_lab])).min() >= CLEAR_DELTA_E
    ]
    found = best_between(palettes_of([a, b, *apart]), 0, 1, range(2, 2 + len(apart)))
    return None if found is None or found.worst >= JUMP_CEILING else apart[found.index - 2]


def _jump_sentence(by_id: Mapping[str, Print], sequence: Sequence, pair: Neighbours) -> str:
    a, b = by_id[pair.a], by_id[pair.b]
    return f"“{a.name}” to “{b.name}” is a jump: {_breach(a, b, pair)}. " + _bridging(
        by_id, sequence, a, b
    )


def _breach(a: Print, b: Print, pair: Neighbours) -> str:
    held = pair.shared or 0.0
    common = "no colour in common" if held < 0.02 else f"only {held:.0%} of their colour in common"
    step = abs(a.value - b.value)
    if step < 2 * BLURS_VALUE:
        return common
    lighter = a if a.value > b.value else b
    return f"{common}, and “{lighter.name}” is lighter by {step:.0f} of 100"


def _bridging(by_id: Mapping[str, Print], sequence: Sequence, a: Print, b: Print) -> str:
    box = [by_id[name] for name in sequence.left_out if name in by_id]
    found = best_between(palettes_of([a, b, *box]), 0, 1, range(2, 2 + len(box)))
    if found is None or found.worst >= 0.8 * found.before:
        return "A print that holds a colour of each would bridge it."
    return f"“{box[found.index - 2].name}”, still in the box, would bridge it."


def _lighter_sentences(by_id: Mapping[str, Print], lighter: Mapping[str, float]) -> list[str]:
    if not lighter:
        return []
    name, more = max(lighter.items(), key=lambda item: item[1])
    return [
        f"“{by_id[name].name}” is a strong colour and looks about {more:.0f} lighter than its "
        f"value of {by_id[name].value:.0f}: trust the value view there, not the first glance."
    ]


def _vision_sentences(
    by_id: Mapping[str, Print], pairs: tuple[Neighbours, ...], vision: Json
) -> list[str]:
    """Pairs that part for normal eyes and blur for others; the kinds in one sentence a pair."""
    lost: dict[tuple[str, str], list[str]] = {}
    for kind in KINDS:
        for pair, seen in zip(pairs, vision[kind], strict=True):
            if seen["blurs"] and pair.verdict != "blurs":
                lost.setdefault((pair.a, pair.b), []).append(kind)
    return [
        f"To {' and '.join(_EYES[kind] for kind in kinds)} eyes “{by_id[a].name}” and "
        f"“{by_id[b].name}” run together: a larger step in value would part them."
        for (a, b), kinds in list(lost.items())[:WORST_PAIRS]
    ]
