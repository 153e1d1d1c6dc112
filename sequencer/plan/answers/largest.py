"""The largest piece a box can make, and the best piece of a given size, within the scraps.

Both look at every candidate in a stated space, the most promising first, and stop at the first
that the scraps can give; what was not looked at is bounded, so that the answer is proved or its
gap is stated (``Plan.options["search"]``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, NoReturn

from sequencer.errors import PlanError, UsageError
from sequencer.inches import round_down, round_up, show_length
from sequencer.models import Plan, Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.answers.asking import Fits, ask, check_options, plan_within
from sequencer.plan.asked import LARGEST_SIDE, MM, Length, length
from sequencer.plan.cloth import Box

NARROWEST, WIDEST = Fraction(1, 2), Fraction(2)
"""Width over height of a panel that still hangs well (our judgement)."""
FEWEST_ROWS = 12
"""Fewer rows draw no curve; asked for only where the strips are free (our judgement)."""
MOST_PLANS = 60
"""Whole plans a search may lay out, a limit that a slow machine does not change."""
SKIPPED = 7
"""Panels passed over at a time after that."""


@dataclass(frozen=True)
class Candidate:
    """One panel of the search space: finished strip, repeats, width and height of the centre."""

    strip: Fraction
    repeats: int
    width: Fraction
    height: Fraction

    @property
    def area(self) -> Fraction:
        """Square inches."""
        return self.width * self.height


def largest_piece(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    *,
    strip: Length | None = None,
    shape: tuple[Length, Length] = (NARROWEST, WIDEST),
    **options: Any,
) -> Plan:
    """The panel of largest area whose strips the scraps can give, joins allowed.

    Searched: repeats from 1, widths in quarter inches (5 mm), columns as the curve wants them,
    width over height within ``shape``; equal strips of ``strip`` (default 1/4 in or 7 mm;
    ``"any"`` tries every ruler width up to 2 in with at least twelve rows). ``options`` are
    other arguments of :func:`plan_columns`. Strip sets are as long as suits the scraps: up to
    36 lengths are tried for each panel, unless ``set_length`` is given.

    ``options["search"]`` of the plan says ``status`` (optimal: with these lengths of strip set no
    larger panel of the space can be cut; bounded: some that may be, up to ``bound`` square inches,
    were not ruled out, ``gap`` being that share), ``ceiling`` (square inches that no lengths of
    strip set can exceed) and ``limits``: the prints that keep the piece from being larger.

    Raises:
        UsageError: an option that cannot be understood or that the search settles itself.
        PlanError: no scrap has a size, or not even the smallest panel can be cut.
    """
    check_options(options, ("size", "repeats", "columns", "offsets", "pieces", "prove"))
    search = Search(prints, seq, options)
    low, high = (length("Shape", side) for side in shape)
    if not 0 < low <= high:
        raise UsageError("Shape: give the least and the greatest width over height, like 1/2, 2.")
    rows = FEWEST_ROWS if strip == "any" else 2
    space = sorted(
        (c for t in search.strips(strip) for c in search.candidates(t, low, high, rows)),
        key=lambda c: (-c.area, abs(c.width - c.height), -c.strip, c.repeats),
    )
    return search.first(space)


class Search:
    """Candidates, quick bounds and whole plans for one box and sequence."""

    def __init__(
        self, prints: Sequence[Print], seq: Ordered | Sequence[str], options: Mapping[str, Any]
    ) -> None:
        self.prints, self.seq, self.options = prints, seq, dict(options)
        self.sample, self.curve = ask(prints, seq, {**options, "size": None, "repeats": 1})
        known = {item.id: item for item in prints}
        self.known = known
        if not any(Box(self.sample, known).scraps.values()):
            raise PlanError(
                "No scrap of this sequence has a size, so nothing bounds the piece. Give sizes, "
                "like: passalong size FOLDER ID=18x22."
            )
        self.step = 5 * MM if self.sample.units == "cm" else Fraction(1, 4)
        self.fits = Fits()
        self.plans = 0

    def strips(self, strip: Length | None) -> list[Fraction]:
        """Finished strips to try."""
        seam, grid = self.sample.seam, self.sample.grid
        if strip == "any":
            first = round_up(seam, grid)
            return [first + k * grid for k in range(int((2 - first) / grid) + 1)]
        found = self.sample.customs.strip if strip is None else length("Strip", strip)
        if found < seam:
            raise PlanError(
                f"Strips of {show_length(found, self.sample.units)} finished are narrower than the "
                f"seam allowance {show_length(seam, self.sample.units)}."
            )
        return [found]

    def capacity(self, strip: Fraction) -> dict[str, Fraction]:
        """Most length of strip that each print with a known size can give."""
        strips = dict.fromkeys(self.sample.ids, strip)
        box = Box(replace(self.sample, strips=strips), self.known)
        return {key: Fraction(box.held(key, full=True), box.unit) for key in box.sized}

    def candidates(
        self, strip: Fraction, low: Fraction, high: Fraction, rows: int
    ) -> Iterator[Candidate]:
        """Panels that the shortest capacity does not rule out even with a single column."""
        n = len(self.sample.ids)
        held = min(self.capacity(strip).values())
        squaring = self.sample.squaring
        for repeats in range(1, math.floor(LARGEST_SIDE / (n * strip)) + 1):
            height = n * strip * repeats
            room = held / repeats - squaring - 2 * self.sample.seam
            if n * repeats < rows:
                continue
            widest = round_down(min(room, high * height, LARGEST_SIDE), self.step)
            width = round_up(max(low * height, strip), self.step)
            while width <= widest:
                yield Candidate(strip, repeats, width, height)
                width += self.step

    def first(self, space: Sequence[Candidate]) -> Plan:
        """The first candidate of ``space`` (largest first) that the scraps can give.

        After MOST_PLANS only every eighth is planned; once one can be cut, those between.
        """
        ceiling = bound = Fraction(0)
        skipped: list[Candidate] = []
        for candidate in self.possible(space):
            ceiling = ceiling or candidate.area
            if self.plans >= MOST_PLANS and len(skipped) < SKIPPED:
                skipped.append(candidate)
                bound = max(bound, candidate.area)
                continue
            plan, proved = self.plan(candidate)
            if plan is not None:
                for between in skipped:
                    larger, _ = self.plan(between)
                    if larger is not None:
                        return self.report(larger, between, bound, ceiling)
                return self.report(plan, candidate, bound, ceiling)
            skipped = []
            bound = bound if proved else max(bound, candidate.area)
        self.give_up()

    def possible(self, space: Sequence[Candidate]) -> Iterator[Candidate]:
        """Candidates whose length of strip the scarcest print holds, joins and rests aside."""
        least = {
            strip: min(self.capacity(strip).values()) for strip in {c.strip for c in space}
        }
        for candidate in space:
            if self.least_length(candidate) <= least[candidate.strip]:
                yield candidate

    def give_up(self) -> NoReturn:
        """Say which print is the scarcest."""
        most = self.capacity(self.sample.seam)
        scarce = min(most, key=lambda key: (most[key], key))
        raise PlanError(
            "Not even the smallest of the panels looked for can be cut from the scraps. The "
            f"scarcest print is {scarce}: {self.sample.show(most[scarce])} of the narrowest strip "
            "there is. Leave it out, add a scrap of it, or set another strip."
        )

    def least_length(self, candidate: Candidate) -> Fraction:
        """Strip length of each print that this panel cannot do without."""
        request, curve = ask(self.prints, self.seq, self.wishes(candidate))
        columns = self.fits(request, curve).columns
        cut = sum((column.cut_width for column in columns), Fraction(0))
        sets = 2 if request.press == "nested" and len(columns) > 1 else 1
        return cut * request.repeats + request.squaring * sets * (
            request.repeats if request.tall else 1
        )

    def wishes(self, candidate: Candidate) -> dict[str, Any]:
        """Arguments of ``plan_columns`` for a candidate."""
        return {
            **self.options,
            "size": (candidate.width, candidate.height),
            "strip": candidate.strip,
            "repeats": candidate.repeats,
        }

    def plan(self, candidate: Candidate) -> tuple[Plan | None, bool]:
        """The whole plan of a candidate, its scraps cut by the ledger; None if they do not do,
        and whether that is proved.
        """
        self.plans += 1
        return plan_within(self.prints, self.seq, self.wishes(candidate), self.fits)

    def report(
        self, plan: Plan, candidate: Candidate, bound: Fraction, ceiling: Fraction
    ) -> Plan:
        """The plan with what the search can promise about it."""
        held, area = self.capacity(candidate.strip), candidate.area
        least, bound = min(held.values()), max(bound, area)
        search = {
            "goal": "largest",
            "status": "optimal" if bound == area else "bounded",
            "area": area,
            "bound": bound,
            "ceiling": ceiling,
            "gap": round(float((bound - area) / bound), 6),
            "limits": sorted(key for key, total in held.items() if total == least),
            "plans": self.plans,
        }
        return replace(plan, options={**plan.options, "search": search})
