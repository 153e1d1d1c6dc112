"""The largest and the best piece that a box really makes: best first, within a stated space.

Each member of the space is a *line*: a strip width, a number of repeats and a kind of strip set,
with every width of the panel. A line is looked at from its widest panel that the scarcest print
might give downward; the line that promises most goes first (best-first search: Hart, Nilsson and
Raphael 1968), and the search ends when no line promises more than what was found.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, NoReturn

from sequencer.errors import PlanError, UsageError
from sequencer.inches import on_grid, round_down, round_up, show_length, with_units
from sequencer.models import Plan, Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.answers.asking import Fits, ask, check_options
from sequencer.plan.asked import LARGEST_SIDE, MM, Length, Request, length
from sequencer.plan.cloth import Box, Settling, least_needed
from sequencer.plan.planner import plan_columns

STRIPS = tuple(Fraction(eighths, 8) for eighths in (2, 3, 4, 5, 6, 8, 10, 12, 16))
STRIPS_METRIC = tuple(mm * MM for mm in (7, 10, 12, 15, 20, 25, 30, 40, 50))
"""Finished strips that ``auto`` tries."""
FEWEST_ROWS = 12
"""Fewer rows draw no curve; asked for only where the strips are free (our judgement)."""
MOST_SETTLED = 90
"""Panels whose strips a search may cut, a limit that a slow machine does not change."""
WALL = Fraction(36)
"""Longest side of a piece that nobody gave a size: small enough for a wall (our judgement)."""
ROWS_ENOUGH, COLUMNS_ENOUGH = 30, 20
"""Rows and columns from which more add nothing to the curve (our judgement)."""
JOIN_PRICE = Fraction(1, 100)
"""Share of a piece's worth that each join costs (our judgement): few joins before small gains."""


@dataclass(frozen=True)
class Goal:
    """What is looked for: ``name``, ``shape`` (least, greatest width over height), longest side."""

    name: str
    shape: tuple[Fraction, Fraction]
    longest: Fraction

    def worth(self, area: Fraction, rows: int, columns: int, joins: int) -> Fraction:
        """Square inches; for the best piece less where rows or columns are few, or joins many."""
        if self.name == "largest":
            return area
        fine = Fraction(min(rows, ROWS_ENOUGH), ROWS_ENOUGH)
        fine *= Fraction(min(columns, COLUMNS_ENOUGH), COLUMNS_ENOUGH)
        return area * fine * max(Fraction(1, 10), 1 - JOIN_PRICE * joins)


@dataclass(frozen=True)
class Line:
    """Panels alike but for their width."""

    strip: Fraction
    repeats: int
    method: str
    sets: str


@dataclass(frozen=True)
class Found:
    """A panel that can be cut: its arguments, its worth, and what joins it takes."""

    wishes: Mapping[str, Any]
    worth: Fraction
    joins: int


def largest_piece(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    *,
    strip: Length | None = None,
    shape: tuple[Length, Length] = ("1/2", "2"),
    **options: Any,
) -> Plan:
    """The panel of largest area whose strips the scraps can give, joins as wished (any).

    Searched: repeats from 1, flat and loop, strip sets of one repeat and tall ones, widths in
    quarter inches (5 mm), columns as the curve wants them, width over height within ``shape``;
    strips of ``strip``, or with ``"auto"`` (the default) nine widths from 1/4 in to 2 in (7 to
    50 mm) with at least twelve rows. ``options`` are other arguments of :func:`plan_columns`.

    Raises:
        UsageError: an option that cannot be understood or that the search settles itself.
        PlanError: no scrap has a size, or not even the smallest panel can be cut.
    """
    low, high = (length("Shape", side) for side in shape)
    if not 0 < low <= high:
        raise UsageError("Shape: give the least and the greatest width over height, like 1/2, 2.")
    return Search(prints, seq, options, strip, Goal("largest", (low, high), LARGEST_SIDE)).run()


def best_piece(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    *,
    strip: Length | None = None,
    **options: Any,
) -> Plan:
    """The piece that these scraps make best when no size is asked for, up to 36 in a side.

    The space of :func:`largest_piece`, width over height from 2/3 to 3/2, no strip joined of more
    than two pieces unless wished. Worth is area, less where rows or columns are few, and less
    one per cent for each join.
    """
    shape = Fraction(2, 3), Fraction(3, 2)
    given = {"joins": "few", **options}
    return Search(prints, seq, given, strip, Goal("best", shape, WALL)).run()


class Search:
    """Lines, what they promise, and the panels that can be cut."""

    def __init__(
        self,
        prints: Sequence[Print],
        seq: Ordered | Sequence[str],
        options: Mapping[str, Any],
        strip: Length | None,
        goal: Goal,
    ) -> None:
        check_options(options, ("size", "columns", "offsets", "pieces", "prove"))
        self.prints, self.seq, self.options, self.goal = prints, seq, dict(options), goal
        self.known = {item.id: item for item in prints}
        self.sample, _ = ask(prints, seq, {**options, "strip": None, "repeats": 1})
        self.free = strip in (None, "auto", "any")
        self.strips = self._strips(strip)
        self.step = 5 * MM if self.sample.units == "cm" else Fraction(1, 4)
        self.fits = Fits()
        self._held: dict[Fraction, Fraction] = {}
        self.settled = 0
        self.ceiling = Fraction(0)
        """Worth that no panel of the space exceeds: as wide as cloth may do, enough columns."""
        self.fewest_rows = FEWEST_ROWS if self.free else 2
        if not any(Box(self.sample, self.known).scraps.values()):
            raise PlanError(
                "No scrap of this sequence has a size, so nothing bounds the piece. Give sizes, "
                "like: passalong size FOLDER ID=18x22."
            )

    def _strips(self, strip: Length | None) -> list[Fraction]:
        seam, units = self.sample.seam, self.sample.units
        if self.free:
            every = STRIPS_METRIC if units == "cm" else STRIPS
            return [one for one in every if one >= seam and on_grid(one, self.sample.grid)]
        found = length("Strip", with_units(strip if strip is not None else 0, units))
        if found < seam:
            raise PlanError(
                f"Strips of {show_length(found, units)} finished are narrower than the seam "
                f"allowance {show_length(seam, units)}."
            )
        return [found]

    # ── the space ─────────────────────────────────────────────────────────────────────────

    def lines(self) -> Iterator[Line]:
        """Every line of the space."""
        n, asked = len(self.sample.ids), self.options
        kinds = [("loop", "tall"), ("flat", "repeat")]
        if "method" in asked or "sets" in asked:
            methods = [asked.get("method", "loop")] if "method" in asked else ["loop", "flat"]
            sets = [asked["sets"]] if asked.get("sets", "auto") != "auto" else ["tall", "repeat"]
            kinds = [(m, s) for m in methods for s in sets if (m, s) != ("loop", "repeat")
                     or "sets" in asked]  # fmt: skip
        for strip in self.strips:
            most = math.floor(self.goal.longest / (n * strip))
            counts = [asked["repeats"]] if asked.get("repeats") else range(1, most + 1)
            for repeats in counts:
                if n * repeats < self.fewest_rows:
                    continue
                for method, sets_ in kinds if repeats > 1 else kinds[:1]:
                    yield Line(strip, repeats, method, sets_)

    def wishes(self, line: Line, width: Fraction) -> dict[str, Any]:
        """Arguments of ``plan_columns`` for a panel."""
        height = len(self.sample.ids) * line.strip * line.repeats
        return {
            **self.options, "size": (width, height), "strip": line.strip,
            "repeats": line.repeats, "method": line.method, "sets": line.sets,
        }  # fmt: skip

    def widest(self, line: Line) -> Fraction | None:
        """The widest panel that the scarcest print might give; None if there is none."""
        height = len(self.sample.ids) * line.strip * line.repeats
        low, high = self.goal.shape
        least = round_up(max(low * height, line.strip, self.sample.seam), self.step)
        held = self.held(line)
        width = min(held / line.repeats, high * height, self.goal.longest)
        width = reach = round_down(width, self.step)
        while width >= least and not self._may_do(line, width, held):
            reach = width - self.step
            width -= max(self.step, round_down(width / 32, self.step))
        if reach >= least:
            rows = line.repeats * len(self.sample.ids)
            able = self.goal.worth(reach * height, rows, COLUMNS_ENOUGH, 0)
            self.ceiling = max(self.ceiling, able)
        return width if width >= least else None

    def held(self, line: Line) -> Fraction:
        """Most length of strip that the scarcest print gives."""
        if line.strip not in self._held:
            strips = dict.fromkeys(self.sample.ids, line.strip)
            box = Box(replace(self.sample, strips=strips), self.known)
            self._held[line.strip] = min(box.most(key) for key in box.sized)
        return self._held[line.strip]

    def _may_do(self, line: Line, width: Fraction, held: Fraction) -> bool:
        """Whether joins and rests aside the scarcest print holds the strips of this panel."""
        request, curve = ask(self.prints, self.seq, self.wishes(line, width))
        columns = self.fits(request, curve).columns
        return least_needed(request, columns) <= held

    # ── the search ────────────────────────────────────────────────────────────────────────

    def run(self) -> Plan:
        """The plan that is worth most of those that can be cut; with fewer rows than draw a curve
        only where there is no other.
        """
        plan = self._run()
        if plan is None and self.fewest_rows > 2:
            self.fewest_rows, self.settled = 2, 0
            plan = self._run()
        if plan is None:
            self._give_up()
        return plan

    def _run(self) -> Plan | None:
        found: Found | None = None
        queue: list[tuple[Fraction, int, Line, Fraction]] = []
        for number, line in enumerate(self.lines()):
            width = self.widest(line)
            if width is not None:
                heapq.heappush(queue, (-self.promise(line, width), number, line, width))
        if not queue:
            return None
        while queue and self.settled < MOST_SETTLED:
            promise, number, line, width = heapq.heappop(queue)
            if found is not None and -promise <= found.worth:
                break
            made = self.attempt(line, width)
            if made is not None and (found is None or made.worth > found.worth):
                found = self._wider(line, width, made)
            narrower = self._narrower(line, width, made)
            if narrower is not None:
                heapq.heappush(queue, (-self.promise(line, narrower), number, line, narrower))
        open_ = any(found is None or -promise > found.worth for promise, *_ in queue)
        return None if found is None else self._report(found, not open_)

    def promise(self, line: Line, width: Fraction) -> Fraction:
        """What a panel is worth if no strip of it is joined."""
        request, curve = ask(self.prints, self.seq, self.wishes(line, width))
        columns = len(self.fits(request, curve).columns)
        return self.goal.worth(width * request.height, request.rows, columns, 0)

    def attempt(self, line: Line, width: Fraction) -> Found | None:
        """The panel, if its strips can be cut from the scraps."""
        self.settled += 1
        wishes = self.wishes(line, width)
        request, curve = ask(self.prints, self.seq, wishes)
        columns = self.fits(request, curve).columns
        settling = Settling(request, self.known)
        best = settling.best(columns, False, all_or_none=True)
        if best.merit[0]:
            return None
        area = width * request.height
        worth = self.goal.worth(area, request.rows, len(columns), best.merit[1])
        return Found(wishes, worth, best.merit[1])

    def _narrower(self, line: Line, width: Fraction, made: Found | None) -> Fraction | None:
        """The next panel of a line: a little narrower after a failure or joins, else none."""
        if made is not None and not (made.joins and self.goal.name == "best"):
            return None
        height = len(self.sample.ids) * line.strip * line.repeats
        next_ = width - max(self.step, round_down(width / 16, self.step))
        return next_ if next_ >= max(self.goal.shape[0] * height, self.sample.seam) else None

    def _wider(self, line: Line, width: Fraction, made: Found) -> Found:
        """Panels between this one and the next wider that failed, by halving."""
        jump = max(self.step, round_down(width / 16, self.step))
        low, high = width, min(width + jump, self.widest(line) or width)
        while high - low >= 2 * self.step:
            middle = round_down((low + high) / 2, self.step)
            better = self.attempt(line, middle)
            if better is not None and better.worth >= made.worth:
                made, low = better, middle
            else:
                high = middle
        return made

    def _give_up(self) -> NoReturn:
        """Say which print is the scarcest."""
        box = Box(replace(self.sample, strips=dict.fromkeys(self.sample.ids, min(self.strips))),
                  self.known)  # fmt: skip
        scarce = min(box.sized, key=lambda key: (box.held(key, full=True), key))
        length_ = Fraction(box.held(scarce, full=True), box.unit)
        name = self.known[scarce].name or scarce
        raise PlanError(
            "Not even the smallest of the panels looked for can be cut from the scraps. The "
            f"scarcest print is {name}: {self.sample.show(length_)} of the narrowest strip looked "
            "for. Leave it out, add a scrap of it, or set another strip."
        )

    def _what(self, top: bool) -> str:
        """What was compared, and what not."""
        show, least = self.sample.show, self.fewest_rows
        words = {"tall": "tall sets", "repeat": "sets of one repeat"}
        kinds = sorted({f"{line.method} with {words[line.sets]}" for line in self.lines()})
        most = ("largest" if self.goal.name == "largest" else
                "one worth most: area, less for few rows or columns and for joins")  # fmt: skip
        low, high = self.goal.shape
        return (
            f"compared: strips of {', '.join(map(show, self.strips))}; every number of repeats "
            f"with at least {least} rows; sewn {' and '.join(kinds)}; widths in steps of "
            f"{show(self.step)}, from {low} to {high} times the height and no side above "
            f"{show(self.goal.longest)}; columns as the curve wants them. "
            + (f"Of these none is better: the {most}. " if top else
               f"The {most}, of those found that can be cut; best_possible is what the scarcest "
               "print's length of strip would allow. ")
            + "Not compared: other columns, strips of unequal width, other sequences, borders"
        )

    def _report(self, found: Found, closed: bool) -> Plan:
        """The plan with what the search can promise about it."""
        plan = plan_columns(self.prints, self.seq, **{**found.wishes, "prove": True})
        ceiling = self.ceiling
        top = found.worth == ceiling
        box = Box(self._request_of(plan), self.known)
        held = {key: box.most(key) for key in box.sized}
        limits = sorted(key for key, total in held.items() if total == min(held.values()))
        search = {
            "goal": self.goal.name,
            "status": "proved" if top else "bounded",
            "what": self._what(top),
            "best_possible": round(float(ceiling), 4),
            "gap": round(float(1 - found.worth / ceiling), 4),
            "worth": round(float(found.worth), 4),
            "limits": limits,
            "panels": self.settled,
            "finished": closed,
        }
        return replace(plan, search=search)

    def _request_of(self, plan: Plan) -> Request:
        return replace(self.sample, strips=dict(plan.finished_strip))
