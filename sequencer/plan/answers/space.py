"""The panels that a search compares, in lines: panels alike but for their width."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError
from sequencer.inches import on_grid, round_down, round_up, show_length, with_units
from sequencer.models import Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.answers.asking import Fits, ask
from sequencer.plan.answers.goals import COLUMNS_ENOUGH, Goal, Panel, Worth
from sequencer.plan.answers.lines import Line, even_parts
from sequencer.plan.asked import MM, MOST_ROWS, Length, Request, length
from sequencer.plan.cloth import (
    Box,
    Wanted,
    least_lacking,
    may_hold,
    most_net,
    net_needed,
    plan_borders,
)
from sequencer.plan.columns import Followed

STRIPS = tuple(Fraction(eighths, 8) for eighths in (2, 3, 4, 5, 6, 8, 10, 12, 16))
STRIPS_METRIC = tuple(mm * MM for mm in (7, 10, 12, 15, 20, 25, 30, 40, 50))
"""Finished strips that ``auto`` tries."""
FEWEST_ROWS = 12
"""Fewer rows draw no curve; asked for only where the strips are free (our judgement)."""
SMALLEST = (2, 3, 4, 6, 8)
"""Halves of the seam allowance that a smallest column may be, where the size is given."""

PLENTY = Fraction(10**9)
"""Strip of a print whose size is not known."""


class Space:
    """Every line of a goal, what cloth there is for it, and its columns."""

    def __init__(
        self,
        prints: Sequence[Print],
        seq: Ordered | Sequence[str],
        options: Mapping[str, Any],
        strip: Length | None,
        goal: Goal,
    ) -> None:
        self.prints, self.seq, self.options, self.goal = prints, seq, dict(options), goal
        self.known = {item.id: item for item in prints}
        self.free = strip in (None, "auto", "any")
        self.fewest_rows = FEWEST_ROWS if self.free else 2
        self.fits = Fits()
        self._boxes: dict[tuple[Fraction, ...], Box] = {}
        self._nets: dict[Fraction, dict[str, Fraction]] = {}
        self._most: dict[tuple[Fraction, ...], Fraction] = {}
        self._seen: dict[tuple[Any, ...], set[tuple[Fraction, int, int]]] = {}
        self.sample = self._sample()
        self.strips = [] if goal.size else self._strips(strip)
        self.step = 5 * MM if self.sample.units == "cm" else Fraction(1, 4)

    def _sample(self) -> Request:
        """Any panel of the space; with a size, its ruler is the one that shows the size."""
        plain = ask(self.prints, self.seq, {**self.options, "strip": None, "repeats": 1})[0]
        size = self.goal.size
        if size is None:
            return plain
        strip = size[1] / len(plain.ids)
        if strip < plain.seam:
            raise PlanError(self._none(plain))
        wishes = {**self.options, "size": size, "strip": strip, "repeats": 1}
        return ask(self.prints, self.seq, wishes)[0]

    def _none(self, sample: Request) -> str:
        """Why no strips fill the height."""
        assert self.goal.size is not None
        return (
            f"{len(sample.ids)} prints cannot fill {sample.show(self.goal.size[1])} on a "
            f"{sample.show(sample.grid)} ruler with strips of at least {sample.show(sample.seam)}."
            " Use fewer prints, a smaller allowance or another height."
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

    # ── lines ─────────────────────────────────────────────────────────────────────────────

    def kinds(self) -> list[tuple[str, str]]:
        """Methods and sets that are compared."""
        asked = self.options
        if "method" not in asked and "sets" not in asked:
            return [("loop", "tall"), ("flat", "repeat")]
        methods = [asked["method"]] if "method" in asked else ["loop", "flat"]
        sets = [asked["sets"]] if asked.get("sets", "auto") != "auto" else ["tall", "repeat"]
        return [(m, s) for m in methods for s in sets if (m, s) != ("loop", "repeat")
                or "sets" in asked]  # fmt: skip

    def lines(self) -> Iterator[Line]:
        """Every line of the space.

        Raises:
            PlanError: no strips fill the height asked for.
        """
        kinds = self.kinds()
        count = 0
        for strips, repeats, smallest in self._sized() if self.goal.size else self._unsized():
            for method, sets in kinds if repeats > 1 else kinds[:1]:
                count += 1
                yield Line(strips, repeats, method, sets, smallest)
        if not count and self.goal.size:
            raise PlanError(self._none(self.sample))

    def _unsized(self) -> Iterator[tuple[tuple[Fraction, ...], int, None]]:
        n = len(self.sample.ids)
        for strip in self.strips:
            most = math.floor(self.goal.longest / (n * strip))
            asked = self.options.get("repeats")
            for repeats in [asked] if asked else range(1, most + 1):
                if n * repeats >= self.fewest_rows:
                    yield (strip,) * n, repeats, None

    def _sized(self) -> Iterator[tuple[tuple[Fraction, ...], int, Fraction]]:
        """Every number of repeats that fills the height, five smallest columns for each."""
        assert self.goal.size is not None
        (width, height), sample = self.goal.size, self.sample
        n, least = len(sample.ids), round_up(sample.seam, sample.grid)
        most = min(MOST_ROWS // n, math.floor(height / n / least))
        for repeats in range(1, most + 1):
            if not on_grid(height / repeats, sample.grid):
                continue
            for halves in SMALLEST:
                smallest = round_up(sample.seam * halves / 2, sample.grid)
                if smallest <= width:
                    yield self._uneven(repeats, smallest), repeats, smallest

    def _uneven(self, repeats: int, smallest: Fraction) -> tuple[Fraction, ...]:
        """Strips as equal as the scraps allow: scarce prints get narrower ones, as far as that
        helps.
        """
        assert self.goal.size is not None
        sample, one = self.sample, self.goal.size[1] / repeats
        n, grid = len(sample.ids), sample.grid
        even = Line((one / n,) * n, repeats, *self.kinds()[0], smallest)
        request, followed = self.columns(even, self.goal.size[0])
        need = net_needed(request, followed.columns)
        low = int(round_up(request.seam, grid) / grid)
        high = int(one / grid)
        most = [max(low, self._widest_strip(key, need, low, high)) for key in request.ids]
        parts = even_parts(high, low, most) or even_parts(high, low, [high] * n)
        return tuple(part * grid for part in parts)

    def _widest_strip(self, key: str, need: Fraction, low: int, high: int) -> int:
        """The widest strip of the print, in ruler steps, that may still give ``need``."""
        while low < high:
            middle = (low + high + 1) // 2
            if self._net(key, middle * self.sample.grid) >= need:
                low = middle
            else:
                high = middle - 1
        return low

    # ── cloth and columns ─────────────────────────────────────────────────────────────────

    def box(self, line: Line) -> Box:
        """The scraps, for strips of these widths."""
        if line.strips not in self._boxes:
            strips = dict(zip(self.sample.ids, line.strips, strict=True))
            self._boxes[line.strips] = Box(replace(self.sample, strips=strips), self.known)
        return self._boxes[line.strips]

    def _net(self, key: str, strip: Fraction) -> Fraction:
        """Strip that may end in columns: what the print holds, by the bound of ``lacking``."""
        if strip not in self._nets:
            box = Box(replace(self.sample, strips=dict.fromkeys(self.sample.ids, strip)),
                      self.known)  # fmt: skip
            narrow = 3 * self.sample.seam
            self._nets[strip] = {one: min(most_net(box, one, 1, narrow)) for one in box.sized}
        return self._nets[strip].get(key, PLENTY)

    def most_net(self, strips: tuple[Fraction, ...]) -> Fraction:
        """Strip of the scarcest print that may end in columns."""
        if strips not in self._most:
            both = zip(self.sample.ids, strips, strict=True)
            self._most[strips] = min(self._net(key, strip) for key, strip in both)
        return self._most[strips]

    def scarcest(self, line: Line) -> list[str]:
        """The prints that hold least for their strips."""
        both = zip(self.sample.ids, line.strips, strict=True)
        least = self.most_net(line.strips)
        return sorted(key for key, strip in both if self._net(key, strip) == least < PLENTY)

    def wishes(self, line: Line, width: Fraction) -> dict[str, Any]:
        """Arguments of ``plan_columns`` for a panel."""
        even = len(set(line.strips)) == 1 and not self.goal.size
        strip = line.strips[0] if even else dict(zip(self.sample.ids, line.strips, strict=True))
        wishes = {
            **self.options, "size": (width, line.height), "strip": strip,
            "repeats": line.repeats, "method": line.method, "sets": line.sets,
        }  # fmt: skip
        return wishes if line.smallest is None else {**wishes, "smallest": line.smallest}

    def columns(self, line: Line, width: Fraction) -> tuple[Request, Followed]:
        """The panel's request and its columns."""
        request, curve = ask(self.prints, self.seq, self.wishes(line, width))
        followed = self.fits(request, curve)
        seen = self._seen.setdefault((line.strips, line.smallest), set())
        seen.add((width, line.rows, len(followed.columns)))
        return request, followed

    def known_counts(self, line: Line) -> list[tuple[Fraction, int]]:
        """Widths from which the line has at least so many columns, by what was seen of panels
        with such strips and no more rows: a wider or higher panel is taken to have no fewer.
        """
        seen = self._seen.get((line.strips, line.smallest), ())
        known: list[tuple[Fraction, int]] = []
        for width, rows, columns in sorted(seen):
            if rows <= line.rows and columns > (known[-1][1] if known else 2):
                known.append((width, columns))
        return known

    def panel(self, request: Request, followed: Followed) -> Panel:
        """What it is judged by, were nothing joined and the border cut from scraps if that may
        be.
        """
        height = followed.curve.height if followed.curve else None
        miss = round(Fraction((followed.rms_rows or 0.0) / (height or 1.0)), 3)
        return Panel(request.width * request.height, request.rows, len(followed.columns),
                     miss=miss, bought=not self._may_frame(request, followed))  # fmt: skip

    def _may_frame(self, request: Request, followed: Followed) -> bool:
        """Whether some print's scraps might give the border, by their area and longest side."""
        borders, _ = plan_borders(request, self.options.get("border"), "")
        wanted = Wanted.of(borders, None)
        net = net_needed(request, followed.columns)
        if not borders:
            return True
        strips = {key: net * request.cut(width) for key, width in request.strips.items()}
        asked = self.options.get("border_print")
        return any(may_hold(request, item, wanted, strips.get(item.id, Fraction(0)))
                   for item in self.prints if asked in (None, item.id))  # fmt: skip

    def lacking(self, line: Line, request: Request, followed: Followed) -> Fraction:
        """What no cutting can find for the panel."""
        return least_lacking(request, self.box(line), followed.columns)

    def guess(self, line: Line, low: Fraction, high: Fraction) -> Fraction:
        """A width between these that cloth may just give, by the columns seen so far."""
        known = self.known_counts(line)
        near = [one for one in known if one[0] <= high] or known
        net = self.most_net(line.strips) / line.repeats
        if near:
            width, columns = near[-1]
            wide = net / (1 + 2 * self.sample.seam * columns / width)
        else:
            wide = net / 2
        return max(low, min(high, round_down(wide, self.step)))

    # ── what a line promises ──────────────────────────────────────────────────────────────

    def limits(self, line: Line) -> tuple[Fraction, Fraction]:
        """Least and greatest width on the ruler's steps that cloth and shape may allow."""
        if self.goal.size:
            return self.goal.size[0], self.goal.size[0]
        low, high = self.goal.shape
        least = round_up(max(low * line.height, line.strips[0], self.sample.seam), self.step)
        most = min(self.most_net(line.strips) / line.repeats, high * line.height, self.goal.longest)
        return least, round_down(most, self.step)

    def promise(self, line: Line, reach: Fraction) -> Worth | None:
        """Worth that no panel of the line up to this width exceeds; None where none can be cut.

        Every column takes two allowances from the strip, so that many columns make it narrower.
        """
        net = self.most_net(line.strips) / line.repeats
        narrow = line.smallest or self.sample.seam
        known = self.known_counts(line)
        least = self.limits(line)[0]
        worths = []
        for columns in {*range(2, COLUMNS_ENOUGH + 1), *(more for _, more in known)}:
            width = min(reach, net - 2 * self.sample.seam * columns)
            width = min(width, *(at - self.step for at, more in known if more > columns), reach)
            width = round_down(width, self.step)
            if width >= max(least, narrow * min(columns, COLUMNS_ENOUGH)):
                worths.append(self.goal.worth(Panel(width * line.height, line.rows, columns)))
        return max(worths, default=None)
