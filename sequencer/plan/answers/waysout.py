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
from sequencer.plan.answers.asking import Fits, ask
from sequencer.plan.answers.pieces import best_piece
from sequencer.plan.answers.remedies import Remedies, Step
from sequencer.plan.cloth import Box, Settling, least_lacking
from sequencer.plan.options import asked_again
from sequencer.plan.planner import replan
from sequencer.plan.scaling import blocks_of, compare

Costs = Mapping[tuple[str, str], float] | Callable[[str, str], float]

AREA_PRICE, LOOK_PRICE, JOIN_PRICE, SEAM_PRICE = 100.0, 50.0, 0.5, 0.1
"""What a way out costs, in points (our judgement): 1 for a hundredth of the area lost; 50 for a
picture as unlike as plain cloth; 1/2 for a join, 1/10 for a seam more than before."""
MOST_SWAPS = 6
"""Sets of stand-ins tried before giving up."""
FEWEST_ENOUGH, MOST_HALFWAY = 2, 3
"""Where fewer ways suffice, so many that only lessen the shortage are offered as well."""


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
    found = list(search.ways())
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
        self.fits = Fits()
        self.remedies = Remedies(plan, self.known, tuple(self.short))

    def ways(self) -> Iterator[WayOut]:
        """Of each kind the gentlest that suffices, planned; where none does, those that lessen
        the shortage most.
        """
        graded = [*self.remedies.all(), list(self._swaps()), self._best()]
        tried = [self._gentlest(steps) for steps in graded]
        enough = [way for step in tried if step and not step[1] for way in self._way(step[0])]
        yield from (way for way in enough if way.enough)
        if sum(way.enough for way in enough) < FEWEST_ENOUGH:
            rest = sorted((step for step in tried if step and step[1]), key=lambda one: one[1])
            for step, _ in rest[:MOST_HALFWAY]:
                yield from self._way(step)

    def _gentlest(self, graded: Sequence[Step]) -> tuple[Step, Fraction] | None:
        """The first step of which nothing lacks, or the one of which least does, and how much.

        A step that the bound rules out is not cut; after each that was cut in vain the next one
        is twice as far on.
        """
        best: tuple[Step, Fraction] | None = None
        at, stride = 0, 1
        while at < len(graded):
            lacking, cut = self._lacking(graded[at])
            if lacking is not None and (best is None or lacking < best[1]):
                best = graded[at], lacking
            if lacking == 0:
                break
            at += stride if cut else 1
            stride *= 2 if cut else 1
        return best

    def _lacking(self, step: Step) -> tuple[Fraction | None, bool]:
        """Strip that lacks in all, None where nothing can be sewn so; whether it was cut."""
        try:
            wishes = asked_again(self.plan, step.changes)
            request, curve = ask(self.prints, step.seq, wishes)
            columns = self.fits(request, curve).columns
        except PassalongError:
            return None, False
        least = least_lacking(request, Box(request, self.known), columns)
        if least:
            return least, False
        settling = Settling(request, self.known)
        short = settling.best(columns, False, all_or_none=True).merit[0]
        return Fraction(short, settling.box.unit), True

    def _way(self, step: Step) -> Iterator[WayOut]:
        """The way, planned with every effort; none where that lacks no less than before."""
        try:
            plan = replan(self.plan, self.prints, step.seq, **{**step.changes, "prove": True})
        except PassalongError:
            return
        short = shortages(plan)
        if _total(short) >= _total(self.short):
            return
        costs = self._costs(plan, step.seq)
        points = (
            AREA_PRICE * costs["area_lost"] + LOOK_PRICE * costs["look"]
            + JOIN_PRICE * max(0, costs["joins"]) + SEAM_PRICE * max(0, costs["seams"])
        )  # fmt: skip
        changes = {**step.changes, "prove": True}
        yield WayOut(step.kind, step.text, changes, step.seq, short, costs, round(points, 2),
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
            held = self._short_of(step)
            if not held:
                return
            for row, pick in zip(rows, picks, strict=True):
                if spare[pick] in held:
                    table[row][pick] = 1e6

    def _short_of(self, step: Step) -> set[str]:
        """Prints that the swapped plan is short of; all of them where it cannot be sewn."""
        try:
            plan = replan(self.plan, self.prints, step.seq, **step.changes)
        except PassalongError:
            return set(step.seq)
        return set(shortages(plan))
