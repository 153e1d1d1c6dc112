"""The largest piece, the best piece, the best of a size: one search, best first.

Each member of the space is a *line* (strips, repeats, method, sets) with every width of the
panel. A line is looked at from the widest panel that cloth may give downward; what promises most
goes first (best-first search: Hart, Nilsson and Raphael 1968), and the search ends when nothing
left promises more than what was found. What a line promises is worked out only as far as its turn
asks: from the cloth alone, then with the columns of its widest panel.

A panel is ruled out only where the bound on what lacks shows it, or shows it of a narrower one; one
whose cutting merely failed still counts for ``best_possible``.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count, islice
from typing import NoReturn

from sequencer.errors import PlanError
from sequencer.inches import round_down, round_up, show_length
from sequencer.models import Plan
from sequencer.plan.answers.asking import check_options
from sequencer.plan.answers.goals import Found, Worth
from sequencer.plan.answers.lines import Line
from sequencer.plan.answers.space import Space
from sequencer.plan.asked import PlanWishes
from sequencer.plan.cloth import Settling
from sequencer.plan.planner import finish_panel, plan_columns

MOST_SETTLED = 90
"""Panels whose strips a search may cut, a limit that a slow machine does not change."""
MOST_WIDER = 4
"""Panels tried between the widest that was cut and the next wider one, which was not."""
MOST_FITTED = 400
"""Panels whose columns it may look at."""


@dataclass(frozen=True)
class Open:
    """A line still to be looked at from ``width`` down; ``fitted``: its columns are known."""

    line: Line
    width: Fraction
    fitted: bool


class Search:
    """Lines, what they promise, and the panels that can be cut."""

    def __init__(self, space: Space) -> None:
        check_options(space.options, ("size", "columns", "offsets", "pieces", "prove"))
        self.space, self.goal = space, space.goal
        self.settled = self.looked = 0
        self.ceiling: Worth | None = None
        """Most that a panel might be worth which was passed over without a proof."""
        self.nearest: tuple[Fraction, Line] | None = None
        self.turn = count()
        self.queue: list[tuple[tuple[Fraction, ...], int, Open]] = []
        sized = any(one.scraps or one.cuttable_in for one in space.prints
                    if one.id in space.sample.ids)  # fmt: skip
        if not sized and space.goal.size is None:
            raise PlanError(
                "No scrap of this sequence has a size, so nothing bounds the piece. Give sizes, "
                "like: passalong size FOLDER ID=18x22."
            )

    def run(self) -> Plan:
        """The plan that is worth most of those that can be cut; with fewer rows than draw a curve
        only where there is no other.
        """
        found = self._run()
        if found is None and self.space.fewest_rows > 2 and not self.goal.size:
            self.space.fewest_rows, self.settled, self.looked = 2, 0, 0
            found = self._run()
        return self._give_up() if found is None else self._report(found)

    def _run(self) -> Found | None:
        found: Found | None = None
        self.queue, self.ceiling = [], None
        for line in self.space.lines():
            least, most = self.space.limits(line)
            if most >= least:
                self._push(Open(line, most, False), self.space.promise(line, most))
        while self.queue and self.settled < MOST_SETTLED and self.looked < MOST_FITTED:
            if found and self._most_open() <= found.worth:
                break
            key, _, here = heapq.heappop(self.queue)
            promise = tuple(-figure for figure in key)
            if not here.fitted:
                self._fit(here, promise)
                continue
            made = self._attempt(here)
            if made is None or made.worth < promise:
                self._pass_over(promise)
            if made is not None and (found is None or made.worth > found.worth):
                found = made if self.goal.size else self._wider(here, made)
            self._go_on(here, made)
        return found

    def _push(self, here: Open, promise: Worth | None) -> None:
        if promise is not None:
            entry = tuple(-figure for figure in promise), next(self.turn), here
            heapq.heappush(self.queue, entry)

    def _most_open(self) -> Worth:
        return tuple(-figure for figure in self.queue[0][0])

    def _pass_over(self, promise: Worth | None) -> None:
        if promise is not None and (self.ceiling is None or promise > self.ceiling):
            self.ceiling = promise

    def _fit(self, here: Open, promise: Worth) -> None:
        """The widest panel of the line that cloth may give, with the columns it has.

        Found by halving, from a guess: a wider panel is taken to need no less cloth.
        """
        space, line = self.space, here.line
        now = space.promise(line, here.width)
        if now is None or now < promise:  # more is known since than when it was pushed
            return self._push(here, now)
        step = space.step
        least = space.limits(line)[0]
        low, high = least - step, here.width + step
        best: Worth | None = None
        width = here.width if self.goal.size else space.guess(line, least, here.width)
        while high - low > step:
            self.looked += 1
            request, followed = space.columns(line, width)
            lacking = space.lacking(line, request, followed)
            if lacking:
                high = width
                self._note(lacking, line)
            else:
                low, best = width, self.goal.worth(space.panel(request, followed))
            if self.goal.size:
                break
            width = space.guess(line, low + step, high - step)
        if best is not None:
            self._push(Open(line, low, True), best)
        return None

    def _note(self, lacking: Fraction, line: Line) -> None:
        if self.nearest is None or lacking < self.nearest[0]:
            self.nearest = lacking, line

    def _attempt(self, here: Open) -> Found | None:
        """The panel, if its strips can be cut from the scraps."""
        self.settled += 1
        request, followed = self.space.columns(here.line, here.width)
        settling = Settling(request, self.space.known)
        best = settling.best(followed.columns, bool(self.goal.size), all_or_none=True)
        if best.merit[0]:
            self._note(Fraction(best.merit[0], settling.box.unit), here.line)
            return None
        wishes = self.space.wishes(here.line, here.width)
        panel = replace(self.space.panel(request, followed), joins=best.merit[1])
        if self.goal.name != "largest" and not panel.bought:
            finished = finish_panel(request, PlanWishes.of(wishes), followed.columns,
                                    self.space.known, settling.placed(best).uses)  # fmt: skip
            panel = replace(panel, bought=finished.bought)
        return Found(wishes, self.goal.worth(panel), best.merit[1])

    def _go_on(self, here: Open, made: Found | None) -> None:
        """The next panel of the line: a little narrower after a failure or joins, else none."""
        if self.goal.size or (made is not None and not (made.joins and self.goal.name == "best")):
            return
        least, _ = self.space.limits(here.line)
        width = here.width - self._jump(here.width)
        if width >= least:
            request, followed = self.space.columns(here.line, width)
            self._push(Open(here.line, width, True),
                       self.goal.worth(self.space.panel(request, followed)))  # fmt: skip

    def _wider(self, here: Open, made: Found) -> Found:
        """Panels between this one and the next wider that failed, the widest first."""
        step, (_, most) = self.space.step, self.space.limits(here.line)
        gap = int((min(self._jump(here.width), most - here.width)) / step)
        tries = min(gap, MOST_WIDER)
        for k in range(tries):
            width = here.width + (gap - k * gap // tries) * step
            better = self._attempt(replace(here, width=width))
            if better is not None and better.worth >= made.worth:
                return better
        return made

    def _jump(self, width: Fraction) -> Fraction:
        """How much narrower the next panel of a line is."""
        return max(self.space.step, round_down(width / 24, self.space.step))

    def _give_up(self) -> NoReturn:
        """Say what lacks, or which print is the scarcest."""
        sample = self.space.sample
        if self.goal.size:
            raise PlanError(self._lacking())
        smallest = Line((min(self.space.strips),) * len(sample.ids), 1, *self.space.kinds()[0])
        scarce = self.space.scarcest(smallest)[0]
        box = self.space.box(smallest)
        length_ = Fraction(box.held(scarce, full=True), box.unit)
        raise PlanError(
            "Not even the smallest of the panels looked for can be cut from the scraps. The "
            f"scarcest print is {self.space.known[scarce].name or scarce}: {sample.show(length_)} "
            "of the narrowest strip looked for. Leave it out, add a scrap of it, or set another "
            "strip."
        )

    def _lacking(self) -> str:
        assert self.goal.size is not None
        for line in [] if self.nearest else islice(self.space.lines(), MOST_WIDER):
            request, followed = self.space.columns(line, self.goal.size[0])
            self._note(self.space.lacking(line, request, followed), line)
        assert self.nearest is not None
        wishes = self.space.wishes(self.nearest[1], self.goal.size[0])
        plan = plan_columns(self.space.prints, self.space.seq, **{**wishes, "prove": True})
        units, grid = str(plan.options["units"]), Fraction(plan.options["grid"])
        known = self.space.known
        short = [
            f"{known[need.print].name or need.print} by "
            f"{show_length(round_up(need.short_by, grid), units)}"
            for need in plan.fabric if need.short_by
        ]  # fmt: skip
        return (
            "No panel of this size can be cut from the scraps. Nearest: "
            f"{plan.repeats} repeats in {len(plan.columns)} columns, which lacks "
            f"{', '.join(short)} of strip. Ask for the largest piece, or find more of these prints."
        )

    # ── what is said of it ────────────────────────────────────────────────────────────────

    def _report(self, found: Found) -> Plan:
        """The plan with what the search can promise about it."""
        plan = plan_columns(self.space.prints, self.space.seq, **{**found.wishes, "prove": True})
        most = max(one for one in (
            found.worth, self.ceiling, self._most_open() if self.queue else None
        ) if one is not None)  # fmt: skip
        line = Line(tuple(plan.finished_strip[key] for key in plan.prints), plan.repeats,
                    plan.method, str(plan.options["sets"]))  # fmt: skip
        limits = self.space.scarcest(line)
        search = {
            "goal": self.goal.name,
            "status": "proved" if found.worth == most else "bounded",
            "what": self._what(found.worth == most),
            **self.goal.figures(found.worth, most),
            "limits": limits,
            "panels": self.settled,
            "finished": not self.queue or self._most_open() <= found.worth,
        }
        return replace(plan, search=search)

    def _what(self, top: bool) -> str:
        """What was compared, and what not."""
        space, goal = self.space, self.goal
        show = space.sample.show
        words = {"tall": "tall sets", "repeat": "sets of one repeat"}
        kinds = " and ".join(sorted(f"{m} with {words[s]}" for m, s in space.kinds()))
        if goal.size:
            told = (
                f"every number of repeats that fills the height of {show(goal.size[1])}; strips as "
                "equal as the scraps ask; five smallest columns from the seam allowance to four "
                f"of it; sewn {kinds}; {show(goal.size[0])} wide"
            )
        else:
            low, high = goal.shape
            told = (
                f"strips of {', '.join(map(show, space.strips))}; every number of repeats with at "
                f"least {space.fewest_rows} rows; sewn {kinds}; widths in steps of "
                f"{show(space.step)}, from {low} to {high} times the height and no side above "
                f"{show(goal.longest)}"
            )
        return (
            f"compared: {told}; columns as the curve wants them; scraps cut in lanes. "
            + (f"Of these none is better: {goal.told}. " if top else
               f"Of those found that can be cut: {goal.told}; best_possible is what the bound on "
               "strip does not rule out, a wider panel needing no less of it. ")
            + "Not compared: other columns, other sequences, other borders"
            + ("" if goal.size else ", strips of unequal width")
        )  # fmt: skip
