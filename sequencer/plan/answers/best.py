"""The best piece of a given size: strips, repeats and columns that follow the curve closest.

Closeness is the columns' root mean square miss as a share of the curve's height. Misses below
two hundredths count as equal, and then the panel with the fewest rows and columns is best: more
of them would be work that nobody sees.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError, UsageError
from sequencer.inches import on_grid, round_up, show_length, with_units
from sequencer.models import Plan, Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.answers.asking import Fits, ask, check_options, plan_within
from sequencer.plan.asked import MOST_ROWS, Length, Request, read_size
from sequencer.plan.cloth import Box
from sequencer.plan.planner import plan_columns

NO_FINER = 0.02
"""Share of the curve's height below which a miss counts as none (our judgement)."""
MOST_PLANS = 60
"""Whole plans the search may lay out."""
SETTLED = ("size", "strip", "repeats", "columns", "offsets", "smallest", "pieces", "prove")


@dataclass(frozen=True)
class Choice:
    """A candidate: its arguments, its miss as a share of the curve's height, its rows + columns.

    ``lacking``: strip length that the prints together surely lack; 0 where joins may still do.
    """

    wishes: Mapping[str, Any]
    miss: float
    parts: int
    lacking: Fraction


def best_at(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    size: str | Sequence[Length],
    **options: Any,
) -> Plan:
    """The panel of this centre size that follows the curve closest and that the scraps can give.

    Searched: every number of repeats whose strips can fill the height on the ruler, strips as
    equal as the scraps allow (scarce prints get the narrower ones), smallest columns from the seam
    allowance to four of them. ``options`` are other arguments of :func:`plan_columns`.
    ``search`` of the plan holds ``status``, ``miss`` (share of the curve's height) and
    ``best_possible``.

    Raises:
        UsageError: an option or size that cannot be understood or that the search settles itself.
        PlanError: no such panel can be sewn, or none can be cut from the scraps; says what lacks.
    """
    check_options(options, SETTLED)
    wanted = read_size(with_units(size, str(options.get("units") or "in")))
    if wanted is None:
        raise UsageError("The best piece of which size? Write width x height, like 8x10.")
    search = _Sizes(prints, seq, wanted, options)
    choices = sorted(search.choices(), key=lambda c: (c.miss, c.parts, str(c.wishes)))
    if not choices:
        raise PlanError(search.none())
    able = [choice for choice in choices if choice.lacking <= 0]
    for tried, choice in enumerate(able[:MOST_PLANS], 1):
        plan = plan_within(prints, seq, choice.wishes, search.fits)
        if plan is not None:
            return _report(plan, choice, tried, able[0].miss)
    raise PlanError(_lacking(prints, seq, min(choices, key=lambda c: c.lacking)))


def _report(plan: Plan, choice: Choice, tried: int, bound: float) -> Plan:
    """``bound``: the least miss of the choices that length of strip alone does not rule out."""
    units = str(plan.options["units"])
    search = {
        "goal": "best at a size", "status": "proved" if bound == choice.miss else "bounded",
        "what": "compared: every number of repeats that fills the height, five widths of the "
        f"smallest column, sewn {plan.method} with {plan.options['sets']} sets, at "
        f"{' x '.join(show_length(side, units) for side in plan.centre)}: the one whose columns "
        "follow the curve closest; misses below 2 hundredths of its height count alike. Not "
        "compared: other methods and sets, strips more unequal than the scraps ask, other columns",
        "miss": choice.miss, "best_possible": bound, "gap": round(choice.miss - bound, 4),
        "panels": tried,
    }  # fmt: skip
    return replace(plan, search=search)


def _lacking(prints: Sequence[Print], seq: Ordered | Sequence[str], nearest: Choice) -> str:
    plan = plan_columns(prints, seq, **{**nearest.wishes, "prove": True})
    units = str(plan.options["units"])
    grid = Fraction(plan.options["grid"])
    names = {one.id: one.name or one.id for one in prints}
    short = [
        f"{names[need.print]} by {show_length(round_up(need.short_by, grid), units)}"
        for need in plan.fabric if need.short_by
    ]  # fmt: skip
    return (
        "No panel of this size can be cut from the scraps. Nearest: "
        f"{plan.repeats} repeats in {len(plan.columns)} columns, which lacks {', '.join(short)} "
        "of strip. Ask for the largest piece, or find more of these prints."
    )


class _Sizes:
    """Choices for one size, box and sequence."""

    def __init__(
        self,
        prints: Sequence[Print],
        seq: Ordered | Sequence[str],
        size: tuple[Fraction, Fraction],
        options: Mapping[str, Any],
    ) -> None:
        self.prints, self.seq, self.size, self.options = prints, seq, size, dict(options)
        self.sample, _ = ask(prints, seq, {**options, "size": None, "strip": None, "repeats": 1})
        one = size[1] / len(self.sample.ids)
        if one < self.sample.seam:
            raise PlanError(self.none())
        probe = {**options, "size": size, "strip": one, "repeats": 1}
        self.sample, self.curve = ask(prints, seq, probe)
        self.fits = Fits()
        known = {item.id: item for item in prints}
        self.known = known

    def none(self) -> str:
        """Why there is no candidate at all."""
        sample = self.sample
        return (
            f"{len(sample.ids)} prints cannot fill {sample.show(self.size[1])} on a "
            f"{sample.show(sample.grid)} ruler with strips of at least {sample.show(sample.seam)}."
            " Use fewer prints, a smaller allowance or another height."
        )

    def choices(self) -> Iterator[Choice]:
        """Every repeat count and smallest column of the space, with what it lacks."""
        n, sample = len(self.sample.ids), self.sample
        least = round_up(sample.seam, sample.grid)
        for repeats in range(1, min(MOST_ROWS // n, math.floor(self.size[1] / n / least)) + 1):
            one = self.size[1] / repeats
            if not on_grid(one, sample.grid):
                continue
            for times in (2, 3, 4, 6, 8):
                smallest = round_up(sample.seam * times / 2, sample.grid)
                if smallest <= self.size[0]:
                    yield self.choice(repeats, one, smallest)

    def choice(self, repeats: int, one: Fraction, smallest: Fraction) -> Choice:
        """A candidate whose scarce prints get narrower strips, as far as that helps."""
        n, grid = len(self.sample.ids), self.sample.grid
        wishes = {**self.options, "size": self.size, "repeats": repeats, "smallest": smallest,
                  "strip": one / n}  # fmt: skip
        request, curve = ask(self.prints, self.seq, wishes)
        followed = self.fits(request, curve)
        cut = sum((column.cut_width for column in followed.columns), Fraction(0))
        need = cut * repeats + request.squaring * (repeats if request.tall else 1)
        most = [self.widest(request, key, need, one) for key in request.ids]
        low = int(round_up(request.seam, grid) / grid)
        parts = even_parts(int(one / grid), low, [max(low, int(w / grid)) for w in most])
        lacking = Fraction(0) if parts else Fraction(1)
        parts = parts or even_parts(int(one / grid), low, [int(one / grid)] * n)
        wishes["strip"] = {k: p * grid for k, p in zip(request.ids, parts, strict=True)}
        box = Box(replace(request, strips=wishes["strip"]), self.known)
        lacking += sum((box.lacks_at_least(key, need) for key in box.sized), Fraction(0))
        height = followed.curve.height if followed.curve else None
        miss = (followed.rms_rows or 0.0) / (height or 1.0)
        return Choice(wishes, max(NO_FINER, round(miss, 3)),
                      n * repeats + len(followed.columns), lacking)  # fmt: skip

    def held(self, request: Request, key: str, strip: Fraction) -> Fraction:
        """Most length of strip this wide that the print can give; plenty where unknown."""
        box = Box(replace(request, strips={**request.strips, key: strip}), self.known)
        if box.scraps[key] is None:
            return Fraction(10**9)
        return Fraction(box.held(key, full=True), box.unit)

    def widest(self, request: Request, key: str, need: Fraction, most: Fraction) -> Fraction:
        """The widest strip of the print, on the ruler, that still gives ``need``; 0 if none."""
        low, high = math.ceil(request.seam / request.grid) - 1, int(most / request.grid)
        if self.known[key].cuttable_in is None and not self.known[key].scraps:
            return high * request.grid
        while low < high:
            middle = (low + high + 1) // 2
            if self.held(request, key, middle * request.grid) >= need:
                low = middle
            else:
                high = middle - 1
        return low * request.grid if low * request.grid >= request.seam else Fraction(0)


def even_parts(total: int, least: int, most: Sequence[int]) -> list[int]:
    """Whole numbers adding up to ``total``, as equal as ``least`` and ``most`` allow; [] if none.

    The least sum of squares, by giving each unit to the smallest part that may still grow (Gross
    1956); equal parts grow in an order that spreads them evenly.
    """
    n = len(most)
    if least * n > total or sum(most) < total:
        return []
    parts = [least] * n
    turn = sorted(range(n), key=lambda i: (i * 0.6180339887498949 % 1, i))
    for _ in range(total - least * n):
        grows = min((i for i in turn if parts[i] < most[i]), key=lambda i: parts[i])
        parts[grows] += 1
    return parts
