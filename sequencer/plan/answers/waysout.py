"""Too little of a print: every way out that works, what each costs, the cheapest first.

Each way is planned for real and its cloth counted by the ledger, so that 'enough' means enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from sequencer.colour import ciede2000
from sequencer.errors import PassalongError
from sequencer.inches import show_length
from sequencer.models import Json, Plan, Print, plain
from sequencer.plan.answers.remedies import Remedies, Step
from sequencer.plan.answers.search import best_piece
from sequencer.plan.planner import replan
from sequencer.plan.scaling import blocks_of, compare

Costs = Mapping[tuple[str, str], float] | Callable[[str, str], float]

AREA_PRICE, LOOK_PRICE, JOIN_PRICE, SEAM_PRICE = 100.0, 50.0, 0.5, 0.1
"""What a way out costs, in points (our judgement): 1 for a hundredth of the area lost; 50 for a
picture as unlike as plain cloth; 1/2 for a join, 1/10 for a seam more than before."""
MOST_SWAPS = 6
"""Sets of stand-ins tried before giving up."""


@dataclass(frozen=True)
class WayOut:
    """``kind`` and ``text`` say what to do; ``changes`` are arguments for :func:`replan`.

    ``seq``: the prints in order, another than the plan's only for a swap. ``short``: what is
    still lacking, by print; empty where the way suffices. ``costs``: what it costs beside the
    plan as it was; ``points``: their weighted sum, by which ways are ranked. ``price`` and
    ``lacking`` say costs and shortage in words. ``folder``: the piece's, as it is typed.
    """

    kind: str
    text: str
    changes: Mapping[str, Any]
    seq: tuple[str, ...]
    short: Mapping[str, Fraction]
    costs: Mapping[str, Any]
    points: float
    plan: Plan
    price: str = ""
    lacking: str = ""
    number: int = 0
    folder: str = "FOLDER"

    @property
    def command(self) -> str:
        """What to type to take it."""
        return f"passalong plan {self.folder} --way-out {self.number}"

    @property
    def told(self) -> str:
        """The way, its price, what is still lacking, and what to type."""
        return f"{self.text} {self.price} {self.lacking} Take it: {self.command}."

    @property
    def enough(self) -> bool:
        """Whether nothing is lacking any more."""
        return not self.short

    def to_json(self) -> Json:
        """Plain form, without the plan."""
        return {
            "number": self.number,
            "kind": self.kind,
            "text": self.text,
            "command": self.command,
            "price": self.price,
            "lacking": self.lacking,
            "changes": plain(dict(self.changes)),
            "prints": list(self.seq),
            "enough": self.enough,
            "short": plain(self.short),
            "costs": plain(self.costs),
            "points": self.points,
        }


def ways_out(
    plan: Plan, prints: Sequence[Print], costs: Costs | None = None
) -> tuple[WayOut, ...]:
    """Ways out of a shortage, those that suffice first, the cheapest of them at the top.

    ``prints``: the whole box; those not in the plan may stand in for a short one. ``costs``: what
    it costs to swap print a for print b, as a mapping of pairs or a function (default, and for
    pairs a mapping leaves out: ΔE00 of the means).
    Empty where nothing is short.
    """
    search = _Search(plan, prints, costs)
    if not search.short:
        return ()
    found = [way for way in search.ways() if _total(way.short) < _total(search.short)]
    found.sort(key=lambda way: (not way.enough, way.points if way.enough else _total(way.short),
                                way.points, way.kind, way.text))  # fmt: skip
    return tuple(replace(way, number=number) for number, way in enumerate(found, 1))


def shortages(plan: Plan) -> dict[str, Fraction]:
    """Length of strip lacking, by print."""
    return {need.print: need.short_by for need in plan.fabric if need.short_by > 0}


def _total(short: Mapping[str, Fraction]) -> Fraction:
    return sum(short.values(), Fraction(0))


class _Search:
    """Tries changes of one plan against its box."""

    def __init__(self, plan: Plan, prints: Sequence[Print], costs: Costs | None) -> None:
        self.prints = prints
        self.known = {item.id: item for item in prints}
        self.plan = plan
        self.short = shortages(plan)
        self.costs = costs
        self.remedies = Remedies(plan, self.known, tuple(self.short))

    def ways(self) -> Iterator[WayOut]:
        """Every way that lessens the shortage; of a graded one the gentlest that suffices."""
        for graded in (*self.remedies.all(), list(self._swaps()), self._best()):
            way = self._gentlest(graded)
            if way is not None:
                yield way

    def _gentlest(self, graded: Sequence[Step]) -> WayOut | None:
        """Quick plans find the first step that suffices; it and the one before it are proved."""
        lacking: list[Fraction] = []
        for step in graded:
            lacking.append(_total(self._lacking(step, prove=False)))
            if not lacking[-1]:
                break
        if not lacking:
            return None
        enough = next((i for i, short in enumerate(lacking) if not short), None)
        last = min(range(len(graded)), key=lambda i: (lacking[i], i)) if enough is None else enough
        best: WayOut | None = None
        for step in graded[max(0, last - 1) : last + 1]:
            way = self._way(step)
            if way is not None and (best is None or _total(way.short) < _total(best.short)):
                best = way
        return best

    def _plan(self, step: Step, prove: bool) -> Plan | None:
        try:
            return replan(self.plan, self.prints, step.seq, **{**step.changes, "prove": prove})
        except PassalongError:
            return None

    def _lacking(self, step: Step, prove: bool) -> dict[str, Fraction]:
        plan = self._plan(step, prove)
        return {"": Fraction(10**9)} if plan is None else shortages(plan)

    def _way(self, step: Step) -> WayOut | None:
        plan = self._plan(step, prove=True)
        if plan is None:
            return None
        costs = self._costs(plan, step.seq)
        points = (
            AREA_PRICE * costs["area_lost"] + LOOK_PRICE * costs["look"]
            + JOIN_PRICE * max(0, costs["joins"]) + SEAM_PRICE * max(0, costs["seams"])
        )  # fmt: skip
        changes = {**step.changes, "prove": True}
        short = shortages(plan)
        return WayOut(step.kind, step.text, changes, step.seq, short, costs, round(points, 2),
                      plan, self._price(plan, costs), self._still(short))  # fmt: skip

    def _best(self) -> list[Step]:
        """The best piece that these scraps make, which lacks nothing."""
        asked = self.plan.options["asked"]
        own = {key: asked[key] for key in ("units", "curve", "seam", "press", "directional")}
        try:
            best = best_piece(self.prints, self.plan.prints, **own)
        except PassalongError:
            return []
        wide, high = (show_length(side, best.options["units"]) for side in best.centre)
        found = best.options["asked"]
        changes = {key: found[key] for key in ("size", "strip", "repeats", "method", "sets",
                                               "joins", "smallest")}  # fmt: skip
        changes |= {"columns": None, "offsets": None, "set_length": None}
        text = f"Make the best piece of these scraps instead, {wide} x {high}."
        return [Step("best piece", text, changes, self.plan.prints)]

    def _price(self, plan: Plan, costs: Mapping[str, Any]) -> str:
        """What the way costs, in words."""
        before, units = self.plan, str(plan.options["units"])
        told = []
        for name, old, new in (("narrower", before.centre[0], plan.centre[0]),
                               ("lower", before.centre[1], plan.centre[1])):  # fmt: skip
            if new < old:
                told.append(f"{show_length(old - new, units)} {name}")
        for name, more in (("row", plan.rows - before.rows), ("column", costs["columns"]),
                           ("join", costs["joins"]), ("seam", costs["seams"])):  # fmt: skip
            if more:
                word = name if abs(more) == 1 else f"{name}s"
                told.append(f"{abs(more)} {word} {'more' if more > 0 else 'fewer'}")
        if costs["swap"]:
            told.append(f"colours off by {costs['swap']:.1f}")
        return f"Costs: {', '.join(told)}." if told else "Costs nothing."

    def _still(self, short: Mapping[str, Fraction]) -> str:
        """What is lacking even so."""
        if not short:
            return "Then nothing lacks."
        units = str(self.plan.options["units"])
        named = [f"{self.known[key].name or key} by {show_length(length, units)}"
                 for key, length in short.items()]  # fmt: skip
        return f"Still lacking: {', '.join(named)} of strip."

    def _costs(self, other: Plan, seq: tuple[str, ...]) -> dict[str, Any]:
        before, colours = self.plan, {key: item.mean_lab for key, item in self.known.items()}
        area, old = other.centre[0] * other.centre[1], before.centre[0] * before.centre[1]
        swapped = [(a, b) for a, b in zip(before.prints, seq, strict=True) if a != b]
        return {
            "centre": list(other.centre),
            "area_lost": round(float(1 - area / old), 4),
            "look": compare(blocks_of(before), blocks_of(other), colours).share,
            "joins": sum(n.joins for n in other.fabric) - sum(n.joins for n in before.fabric),
            "seams": other.seams["count"] - before.seams["count"],
            "cuts": other.seams["cuts"] - before.seams["cuts"],
            "columns": len(other.columns) - len(before.columns),
            "swap": round(sum(self._swap_cost(a, b) for a, b in swapped), 3),
        }

    def _swap_cost(self, a: str, b: str) -> float:
        if callable(self.costs):
            return float(self.costs(a, b))
        for pair in ((a, b), (b, a)):
            if self.costs is not None and pair in self.costs:
                return float(self.costs[pair])
        return float(ciede2000(self.known[a].mean_lab, self.known[b].mean_lab))

    def _swaps(self) -> Iterator[Step]:
        """Each short print for an unused one of the box, at the least cost in all."""
        from scipy.optimize import linear_sum_assignment

        spare = [item.id for item in self.prints if item.id not in self.plan.prints]
        short = list(self.short)
        if len(spare) < len(short):
            return
        table = [[self._swap_cost(a, b) for b in spare] for a in short]
        for _ in range(min(MOST_SWAPS, len(spare))):
            rows, picks = linear_sum_assignment(table)
            swaps = {short[row]: spare[pick] for row, pick in zip(rows, picks, strict=True)}
            step = self.remedies.swap(swaps)
            yield step
            lacking = self._lacking(step, prove=False)
            if not lacking:
                return
            for row, pick in zip(rows, picks, strict=True):
                if "" in lacking or spare[pick] in lacking:
                    table[row][pick] = 1e6
