"""What someone who knows the trade would say about a sequence, in a few sentences."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as List
from itertools import groupby
from typing import TYPE_CHECKING

from sequencer.keys import listed
from sequencer.models import Neighbours, Print, Sequence
from sequencer.order.words.hand_over import SAME, colour_word, hand_over

if TYPE_CHECKING:
    import networkx as nx

GOOD_RANGE = 40.0
POOR_RANGE = 25.0
"""L* from darkest to lightest print: four Munsell value steps show a curve well, fewer than two
and a half hardly (common practice, no source)."""

_LONGEST_JOURNEY = 8
_HEAPS = {
    "white": "creams", "cream": "creams", "black": "greys", "olive": "greens",
    "yellow-green": "greens", "gold": "yellows", "tan": "browns", "pink": "pinks",
    "rose": "pinks", "magenta": "pinks", "violet": "purples",
}  # fmt: skip


def advise(graph: nx.Graph[str], sequence: Sequence, prints: List[Print]) -> tuple[str, ...]:
    """Sentences on the sequence, most important first; none for a sequence of fewer than two.

    How the colours travel, whether value suffices, where the hand-over is best, which prints
    have no companion in the box and which step asks for a second look.
    """
    by_id = {one.id: one for one in prints}
    if len(sequence.order) < 2 or any(name not in by_id for name in sequence.order):
        return ()
    ordered = [by_id[name] for name in sequence.order]
    return tuple(
        sentence
        for sentence in (
            _journey(ordered, sequence.loop),
            _value(ordered),
            _best_hand_over(by_id, sequence.neighbours),
            _loners(graph, sequence, by_id),
            _largest_step(graph, sequence, by_id),
            _look_alikes(sequence, by_id),
            unsure(sequence, by_id),
        )
        if sentence
    )


def family(one: Print) -> str:
    """The colour family of a print's largest colour, in one word: ``dark greyed blue`` → blue."""
    return colour_word(one.palette[0].lab if one.palette else one.mean_lab).split()[-1]


def wide_family(one: Print) -> str:
    """The heap a maker would put the print on, in the plural: cream → creams, olive → greens."""
    return _HEAPS.get(family(one), f"{family(one)}s")


def called(one: Print) -> str:
    """The print's name in quotation marks; its colour is added while it has no name of its own."""
    colour = colour_word(one.palette[0].lab if one.palette else one.mean_lab)
    return f"“{one.name}”" if one.name != one.id else f"“{one.id}” ({colour})"


# ── the whole order ───────────────────────────────────────────────────────────────────────


def _journey(ordered: List[Print], loop: bool) -> str:
    stations = [name for name, _ in groupby(wide_family(one) for one in ordered)]
    if loop and len(stations) > 1 and stations[-1] == stations[0]:
        stations.pop()
    if len(stations) == 1:
        return f"All of it stays in the {stations[0]}: value and pattern make the difference here."
    home = ", then home to the start" if loop else ""
    between = stations[1:-1]
    if len(between) > _LONGEST_JOURNEY or len(set(stations)) < len(stations):
        return (
            f"Sets out from the {stations[0]} with {called(ordered[0])} and changes colour "
            f"{len(stations) - 1} times on the way to {called(ordered[-1])}{home}."
        )
    way = f" by way of the {listed(between)}" if between else ""
    return f"Travels from the {stations[0]}{way} to the {stations[-1]}{home}."


def _value(ordered: List[Print]) -> str:
    light = max(ordered, key=lambda one: one.value)
    dark = min(ordered, key=lambda one: one.value)
    span = light.value - dark.value
    said = (
        f"Value runs from {dark.value:.0f} in {called(dark)} "
        f"to {light.value:.0f} in {called(light)}"
    )
    if span >= GOOD_RANGE:
        return f"{said}: plenty to show the curve."
    if span >= POOR_RANGE:
        return f"{said}: enough to show the curve, if neighbours differ in colour."
    wanted = "dark" if dark.value > 100 - light.value else "light"
    return f"{said}: too close to show the curve well. One {wanted} print more would make it."


def _best_hand_over(by_id: Mapping[str, Print], pairs: List[Neighbours]) -> str:
    clear = [pair for pair in pairs if pair.verdict not in ("blurs", "jumps") and pair.shared]
    if not clear:
        return ""
    best = min(clear, key=lambda pair: pair.cost)
    found = hand_over(by_id[best.a], by_id[best.b])
    same = [part for part in found["parts"] if part["difference"] < SAME]
    if not same:
        return ""
    colours = list(dict.fromkeys(part["colour"] for part in same))[:2]
    verb = "is" if len(colours) == 1 else "are"
    return (
        f"The smoothest hand-over is from {called(by_id[best.a])} to {called(by_id[best.b])}: "
        f"{listed(colours)} {verb} in both, {sum(part['share'] for part in same):.0%} of the cloth."
    )


def _loners(graph: nx.Graph[str], sequence: Sequence, by_id: Mapping[str, Print]) -> str:
    """Prints that must jump wherever they stand."""
    chosen = set(sequence.order)
    if len(chosen) < 3:
        return ""
    alone = [
        by_id[name]
        for name in sequence.order
        if all(edge.get("verdict") == "jumps" for x, edge in graph[name].items() if x in chosen)
    ]
    if not alone or len(alone) > len(sequence.order) // 2:
        return ""
    who = listed(called(one) for one in alone)
    if sequence.left_out:  # picked all the same: it was wished for, or the limits need it
        jump = "jumps" if len(alone) == 1 else "jump"
        return f"{who} {jump} on both sides here, wherever laid among the prints picked."
    if len(alone) == 1:
        return (
            f"{who} has no companion among these prints and jumps wherever it stands: leave it "
            "out, keep it for the border, or find it a partner."
        )
    return (
        f"{who} have no companions among these prints and jump wherever they stand: leave them "
        "out, keep one for the border, or find them partners."
    )


def _largest_step(graph: nx.Graph[str], sequence: Sequence, by_id: Mapping[str, Print]) -> str:
    if len(sequence.neighbours) < 3:
        return ""
    jumps = [pair for pair in sequence.neighbours if pair.verdict == "jumps"]
    worst = max(jumps or sequence.neighbours, key=lambda pair: pair.cost)
    where = f"from {called(by_id[worst.a])} to {called(by_id[worst.b])}"
    closing = sequence.loop and worst == sequence.neighbours[-1]
    at = "where the strip set closes on itself, " if closing else ""
    if not jumps:
        return f"No step is a jump; the largest is {at}{where}."
    if len(jumps) == 1:
        return f"One step of {len(sequence.neighbours)} is a jump: {at}{where}."
    told = f"{len(jumps)} of {len(sequence.neighbours)} steps are jumps, the largest {at}{where}"
    if sequence.status != "optimal":
        return f"{told}."
    return f"{told}. The order is the best there is: what helps is a print to put between."


def _look_alikes(sequence: Sequence, by_id: Mapping[str, Print]) -> str:
    pairs = [pair for pair in sequence.neighbours if pair.verdict == "blurs"]
    if not pairs:
        return ""
    if 2 * len(pairs) > len(sequence.neighbours) > 2:
        return (
            f"{len(pairs)} of {len(sequence.neighbours)} neighbours are look-alikes: choose fewer "
            "prints, or the steps will not show."
        )
    who = listed(f"{called(by_id[pair.a])} with {called(by_id[pair.b])}" for pair in pairs[:2])
    more = f", and {len(pairs) - 2} pairs more" if len(pairs) > 2 else ""
    return f"Look-alikes side by side ({who}{more}) will read as one wide strip."


def unsure(sequence: Sequence, by_id: Mapping[str, Print]) -> str:
    """Which neighbours hardly won, if it is known that some did."""
    pairs = [pair for pair in sequence.neighbours if not pair.certain]
    if not pairs:
        return ""
    if len(pairs) > len(sequence.neighbours) // 2:
        return (
            "The colours are too roughly known to be sure of this order: one photo of all "
            "the prints together, with a white sheet beside them, would settle it."
        )
    who = listed(f"{called(by_id[pair.a])} beside {called(by_id[pair.b])}" for pair in pairs[:2])
    more = f" and {len(pairs) - 2} more" if len(pairs) > 2 else ""
    return f"Not certain within what the photos tell: {who}{more}. Lay these out and look."
