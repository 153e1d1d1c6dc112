"""What is said of prints that blur together or jump where they meet, and who would part them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sequencer.errors import PassalongError
from sequencer.keys import listed
from sequencer.models import ContrastReport, Json, Neighbours
from sequencer.opened.shown.pin import Said, order_remedy
from sequencer.piece import Piece

if TYPE_CHECKING:
    import networkx as nx

_PAIRS = 4


def of_meetings(piece: Piece, report: ContrastReport, graph: nx.Graph) -> Iterator[Said]:
    """Pairs that blur, the worst first; then those that jump, one after the other as one."""
    names = piece.labels
    blurs = sorted((pair for pair in report.pairs if pair.verdict == "blurs"),
                   key=lambda pair: pair.delta_e or 0.0)  # fmt: skip
    runs = sorted(runs_of(report.pairs), key=lambda run: -max(pair.cost for pair in run))
    for run in [*([pair] for pair in blurs), *runs][:_PAIRS]:
        what = "run into each other" if run[0].verdict == "blurs" else "jump"
        maybe = "" if any(pair.certain for pair in run) else "perhaps "
        met = [names[run[0].a], *(names[pair.b] for pair in run)]
        each = ", each from the next" if len(run) > 1 else ""
        text = f"{listed(met)} {maybe}{what}{each}."
        remedy = parting(piece, run, graph, names)
        if remedy is None and what == "jump":
            text += " A print between would bridge them; the sheets show its colours."
        yield Said(text, {"pair": [run[0].a, run[0].b]}, remedy)


def runs_of(pairs: Sequence[Neighbours]) -> list[list[Neighbours]]:
    """Jumps that follow one another, also from the end of the order to its start."""
    runs: list[list[Neighbours]] = []
    for pair in (pair for pair in pairs if pair.verdict == "jumps"):
        if runs and runs[-1][-1].b == pair.a:
            runs[-1].append(pair)
        else:
            runs.append([pair])
    if len(runs) > 1 and runs[-1][-1].b == runs[0][0].a:
        runs[0] = runs.pop() + runs[0]
    return runs


def parting(
    piece: Piece, run: Sequence[Neighbours], graph: nx.Graph, names: dict[str, str]
) -> Json | None:
    """A print of the box between two, or prints of the run into the box, where that is better."""
    found = piece.sequence
    if found is None:
        return None
    order = list(found.order)
    pair, worse = run[0], {"jumps"} if run[0].verdict == "jumps" else {"blurs", "jumps"}
    for other in found.left_out if len(run) == 1 else ():
        if not {_verdict(graph, pair.a, other), _verdict(graph, other, pair.b)} & worse:
            place = order.index(pair.a) + 1
            return order_remedy(f"Put {names[other]} between",
                                [*order[:place], other, *order[place:]])  # fmt: skip
    for gone in _leavers(run):
        left = [one for one in order if one not in gone]
        if len(left) > 2 and _meet_well(graph, order, gone):
            told = " and ".join(names[one] for one in gone)
            return order_remedy(f"Leave {told} in the box", left)
    return None


def _leavers(run: Sequence[Neighbours]) -> Iterator[list[str]]:
    """Which prints of a run could be left out, fewest first: two at most, side by side."""
    met = [run[0].a, *(pair.b for pair in run)]
    inner = met[1:-1]
    if not inner:
        yield from ([met[1]], [met[0]])
    elif len(inner) < 3:
        yield inner


def _meet_well(graph: nx.Graph, order: Sequence[str], gone: Sequence[str]) -> bool:
    """Whether what is then beside each other neither blurs nor jumps."""
    before = order[order.index(gone[0]) - 1]
    after = order[(order.index(gone[-1]) + 1) % len(order)]
    return before != after and _verdict(graph, before, after) not in ("blurs", "jumps")


def _verdict(graph: nx.Graph, a: str, b: str) -> str:
    """How two prints meet; as a jump where that is not known."""
    from sequencer.order import report_sequence

    try:
        pair = report_sequence(graph, [a, b], loop=False).neighbours[0]
    except PassalongError:
        return "jumps"
    return pair.verdict or "jumps"
