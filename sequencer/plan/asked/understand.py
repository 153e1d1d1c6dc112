"""Loose arguments → one :class:`~sequencer.plan.asked.request.Request`, or a message that helps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from sequencer import doors
from sequencer.errors import PlanError, UsageError
from sequencer.inches import on_grid, round_down, round_up, show_length
from sequencer.models import Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.asked.customs import (
    INCH_GRIDS,
    INCHES,
    LARGEST_SIDE,
    METRIC,
    MM,
    MM_GRIDS,
    MOST_PATCHES,
    MOST_ROWS,
)
from sequencer.plan.asked.heights import settle_height
from sequencer.plan.asked.loose import (
    Length,
    check_ids,
    choose,
    length,
    listed,
    number,
    ordered_ids,
    parse_offsets,
    parse_widths,
    read_size,
)
from sequencer.plan.asked.request import Request
from sequencer.plan.asked.wishes import PlanWishes


def understand(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    wishes: PlanWishes,
) -> Request:
    """Every argument of ``plan_columns`` that shapes the panel, checked and made exact."""
    customs = METRIC if choose("Units", wishes.units, ("in", "cm")) == "cm" else INCHES
    ids = ordered_ids(prints, seq)
    allowance = customs.seam if wishes.seam is None else length("Seam", wishes.seam)
    if allowance <= 0:
        raise UsageError("Seam: the allowance must be more than zero.")
    wanted = read_size(wishes.size)
    widths, shifts = parse_widths("Columns", wishes.columns), parse_offsets(wishes.offsets)
    _check_explicit(widths, shifts)
    strips, count = settle_height(
        ids, wishes.strip, wishes.repeats, wanted, customs, allowance, wishes.fitted
    )
    height = sum(strips.values(), Fraction(0)) * count
    ruler = _ruler(wishes.grid, wishes.units, [allowance, *(widths or ())], wanted)
    least = _least(wishes.smallest, allowance, strips, ruler, wishes.units)
    width = _width(wanted, widths, height, least, ruler, wishes.units)
    most = None if wishes.largest is None else length("Largest column", wishes.largest, least)
    _check_strips(strips, allowance, wishes.units)
    _check_columns(widths, shifts, width, least, allowance, wishes.units)
    _check_amount(len(ids) * count, width, height)
    return Request(
        ids=ids, strips=strips, seam=allowance, repeats=count, width=width, height=height,
        grid=ruler, units=wishes.units, customs=customs, columns=widths, offsets=shifts,
        smallest=least, largest=None if most is None else round_down(most, ruler),
        steps=_steps(wishes.steps), symmetric=doors.flag("symmetric", wishes.symmetric),
        price=number("Price", wishes.price, 0, 100),
        method=choose("Method", wishes.method, ("loop", "flat")),
        press=choose("Press", wishes.press, ("open", "nested")),
        tall=choose("Sets", wishes.sets, ("auto", "tall", "repeat")) == "tall"
        or (wishes.sets == "auto" and wishes.method == "loop"),
        squaring=_or(customs.squaring, "Squaring", wishes.squaring),
        usable=_or(customs.usable, "Usable width", wishes.usable, Fraction(4)),
        set_length=None if wishes.set_length is None
        else length("Set length", wishes.set_length, Fraction(1)),
        join=choose("Join", wishes.join, ("diagonal", "straight")),
        directional=check_ids("Directional", wishes.directional, ids),
        tolerance=_or(customs.tolerance, "Tolerance", wishes.tolerance),
        straighten=_or(customs.straighten, "Straighten", wishes.straighten),
        spare=_or(customs.spare, "Spare", wishes.spare),
        joins=choose("Joins", wishes.joins, ("any", "few", "none")),
    )  # fmt: skip


def _or(
    custom: Fraction, name: str, given: Length | None, least: Fraction = Fraction(0)
) -> Fraction:
    """The length given, or what custom sets."""
    return custom if given is None else length(name, given, least)


def _check_explicit(
    widths: tuple[Fraction, ...] | None, shifts: tuple[int, ...] | None
) -> None:
    if widths and shifts and len(widths) != len(shifts):
        raise UsageError(
            f"{len(widths)} column widths but {len(shifts)} offsets: give as many of each."
        )


def _ruler(
    grid: Length | None,
    units: str,
    lengths: Sequence[Fraction],
    wanted: tuple[Fraction, Fraction] | None,
) -> Fraction:
    """The coarsest ruler that shows the lengths asked for."""
    if grid is not None:
        found = length("Grid", grid)
        if not Fraction(1, 100) <= found <= 1:
            raise UsageError(f"Grid {grid}: a ruler's step lies between 1/100 in and 1 in.")
        return found
    asked = [*lengths, *(wanted[:1] if wanted else ())]
    for step in MM_GRIDS if units == "cm" else INCH_GRIDS:
        if all(on_grid(item, step) for item in asked):
            return step
    return (MM_GRIDS if units == "cm" else INCH_GRIDS)[0]


def _least(
    smallest: Length | None,
    seam: Fraction,
    strips: Mapping[str, Fraction],
    grid: Fraction,
    units: str,
) -> Fraction:
    if smallest is None:
        half = sum(strips.values(), Fraction(0)) / len(strips) / 2
        return max(-(-seam // grid) * grid, round(half / grid) * grid, grid)
    found = length("Smallest column", smallest)
    if found < seam:
        raise PlanError(_too_narrow("Smallest column", found, seam, units))
    return -(-found // grid) * grid


def _too_narrow(what: str, found: Fraction, seam: Fraction, units: str) -> str:
    return (
        f"{what} {show_length(found, units)} finished is narrower than the seam allowance "
        f"{show_length(seam, units)}: the allowance would reach past the next seam and have "
        f"nowhere to go. Use at least {show_length(seam, units)}, or a smaller allowance."
    )


def _width(
    wanted: tuple[Fraction, Fraction] | None,
    widths: tuple[Fraction, ...] | None,
    height: Fraction,
    least: Fraction,
    grid: Fraction,
    units: str,
) -> Fraction:
    """The centre's width: asked, added up, or one that suits the height."""
    if widths is not None:
        total = sum(widths, Fraction(0))
        if wanted is not None and total != wanted[0]:
            raise PlanError(
                f"These columns add up to {show_length(total, units)}, not "
                f"{show_length(wanted[0], units)}. Change the widths or the size."
            )
        return total
    if wanted is None:
        suits = height * 5 / 4 if height <= 12 else height * 4 / 5
        whole = 25 * MM if units == "cm" else Fraction(1)
        suits = max(8 * whole, min(suits, max(12 * whole, height)))
        return round_down(suits, round_up(whole, grid))
    if wanted[0] < least:
        raise PlanError(
            f"A width of {show_length(wanted[0], units)} holds no column: the smallest is "
            f"{show_length(least, units)} finished. Ask for a wider piece."
        )
    if not on_grid(wanted[0], grid):
        low = round_down(wanted[0], grid)
        raise PlanError(
            f"No whole columns on a {show_length(grid, units)} ruler fill "
            f"{show_length(wanted[0], units)}. Nearest: {show_length(low, units)} or "
            f"{show_length(low + grid, units)}."
        )
    return wanted[0]


def _check_strips(strips: Mapping[str, Fraction], seam: Fraction, units: str) -> None:
    for key, width in strips.items():
        if width < seam:
            raise PlanError(_too_narrow(f"Strip of {key}", width, seam, units))


def _check_columns(
    widths: tuple[Fraction, ...] | None,
    shifts: tuple[int, ...] | None,
    width: Fraction,
    least: Fraction,
    seam: Fraction,
    units: str,
) -> None:
    for column, found in enumerate(widths or (), 1):
        if found < seam:
            raise PlanError(_too_narrow(f"Column {column}:", found, seam, units))
    if widths is None and shifts and len(shifts) * least > width:
        raise PlanError(
            f"{len(shifts)} columns do not fit into {show_length(width, units)}: the smallest is "
            f"{show_length(least, units)}. Use fewer offsets or a wider piece."
        )


def _check_amount(rows: int, width: Fraction, height: Fraction) -> None:
    if height > LARGEST_SIDE or width > LARGEST_SIDE:
        raise PlanError(
            f"{show_length(width)} x {show_length(height)} is larger than any bed "
            f"({show_length(LARGEST_SIDE)} at most). Use narrower strips or fewer repeats."
        )
    if rows > MOST_ROWS or rows < 2 or rows > MOST_PATCHES:
        raise PlanError(f"{rows} rows make no panel: 2 to {MOST_ROWS} are possible.")


def _steps(steps: Sequence[int]) -> tuple[int, ...]:
    found = listed("Steps", steps)
    if any(step not in (0, 1, 2) for step in found) or not any(found):
        raise UsageError(f"Steps {steps}: choose from 0, 1 and 2, not only 0.")
    return tuple(sorted({int(step) for step in found}))
