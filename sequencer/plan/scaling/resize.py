"""One design at another size: which repeats, prints, strips and columns it gets there.

Rows that would finish narrower than the seam allowance merge: first repeats fall away, then
prints are represented by a neighbour. Columns scale with the width; where some would become
too narrow, the best columns are fitted anew to the stepped line the old ones drew.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

import numpy as np

from sequencer.errors import PlanError
from sequencer.inches import on_grid, round_down, round_up, show_ruled
from sequencer.models import Lab, Plan
from sequencer.plan.columns import fit_columns, line_of, unwrapped
from sequencer.plan.curve import Floats
from sequencer.plan.scaling.likeness import Blocks, Likeness, blocks_of, compare
from sequencer.plan.scaling.merging import merge_prints, share_out


@dataclass(frozen=True)
class Resized:
    """A candidate: the panel as blocks, what stands for a print left out, how alike it looks."""

    blocks: Blocks
    stands_for: Mapping[str, str]
    columns_kept: bool
    likeness: Likeness


def resize(
    plan: Plan, colours: Mapping[str, Lab], size: tuple[Fraction, Fraction]
) -> Resized:
    """The candidate that looks most like ``plan`` at ``size``; fewer rows where two look alike.

    Raises:
        PlanError: no two rows or no column of at least a seam allowance fit.
    """
    found = []
    for repeats in range(1, plan.repeats + 1):
        kept = _keeping(plan, colours, size[1], repeats)
        for blocks, same in _blocks(plan, kept, repeats, size) if kept else ():
            found.append(Resized(blocks, kept, same, compare(blocks_of(plan), blocks, colours)))
    if not found:
        raise PlanError(
            f"No panel of {_told(plan, size[0])} x {_told(plan, size[1])} can be sewn from this "
            f"design with seam allowances of {_told(plan, plan.seam)}. Ask for a larger size or "
            "take a smaller allowance."
        )
    return min(found, key=lambda one: (round(one.likeness.share, 2), _rows(one.blocks)))


def _told(plan: Plan, length: Fraction) -> str:
    units = str(plan.options["units"])
    return f"{show_ruled(length, units)} {units}"


def _rows(blocks: Blocks) -> int:
    return len(blocks.order) * blocks.repeats


def _keeping(
    plan: Plan, colours: Mapping[str, Lab], height: Fraction, repeats: int
) -> dict[str, str]:
    """Which print stands for which when only so many rows can be sewn; empty if not even two."""
    room = math.floor(height / repeats / plan.seam)
    keep = min(len(plan.prints), room)
    if keep < 2:
        return {}
    return merge_prints(plan.prints, [colours[key] for key in plan.prints], keep)


def _blocks(
    plan: Plan, stands_for: Mapping[str, str], repeats: int, size: tuple[Fraction, Fraction]
) -> list[tuple[Blocks, bool]]:
    """Panels of these prints and repeats, and whether the old columns are kept in them."""
    order = tuple(key for key in plan.prints if stands_for[key] == key)
    weights = dict.fromkeys(order, Fraction(0))
    for key, stand in stands_for.items():
        weights[stand] += plan.finished_strip[key]
    grid = Fraction(plan.options["grid"])
    strips = share_out(size[1] / repeats, list(weights.values()), plan.seam, grid)
    widths = _scaled_widths(plan, size[0], grid)
    if strips is None:
        return []
    if repeats == plan.repeats and len(order) == len(plan.prints) and widths is not None:
        offsets = tuple(column.offset for column in plan.columns)
        return [(Blocks(order, tuple(strips), repeats, widths, offsets), True)]
    fits = _refitted(plan, size, strips, repeats, grid)
    return [(Blocks(order, tuple(strips), repeats, *fit), False) for fit in fits]


def _scaled_widths(plan: Plan, width: Fraction, grid: Fraction) -> tuple[Fraction, ...] | None:
    """The old columns at the new width, or None where one would be narrower than an allowance."""
    if not on_grid(width, grid):
        raise PlanError(
            f"No whole columns on a {_told(plan, grid)} ruler fill {_told(plan, width)}. Nearest: "
            f"{_told(plan, round_down(width, grid))} or {_told(plan, round_up(width, grid))}."
        )
    cells, marks = int(width / grid), [Fraction(0)]
    for column in plan.columns:
        marks.append(marks[-1] + column.finished_width)
    places = [math.floor(mark * cells / marks[-1] + Fraction(1, 2)) for mark in marks]
    widths = tuple((b - a) * grid for a, b in pairwise(places))
    return widths if min(widths) >= plan.seam else None


Fit = tuple[tuple[Fraction, ...], tuple[int, ...]]


def _refitted(
    plan: Plan,
    size: tuple[Fraction, Fraction],
    strips: Sequence[Fraction],
    repeats: int,
    grid: Fraction,
) -> list[Fit]:
    """Best columns for the old line at the new size, by its steps and by steps of two as well."""
    cells, least = int(size[0] / grid), math.ceil(plan.seam / grid)
    if cells < least:
        return []
    line = _in_new_rows(plan, line_of(plan, (np.arange(cells) + 0.5) / cells), strips, repeats)
    price = float(plan.options["asked"].get("price", 0.1)) * least
    flat = (0,) if not np.ptp(np.rint(line)) else ()
    asked = tuple(plan.options["steps"])
    fits = [
        fit_columns(line, least, cells, steps, price, bool(plan.options["symmetric"]))
        for steps in dict.fromkeys([(*flat, *asked), tuple({*flat, *asked, 2})])
    ]
    return [(tuple(cell * grid for cell in fit.widths), fit.offsets) for fit in fits]


def _in_new_rows(
    plan: Plan, line: Floats, strips: Sequence[Fraction], repeats: int
) -> Floats:
    """The line in new rows, so that it rises by the same share of the panel's height."""
    old = _edges([plan.finished_strip[key] for key in plan.prints]) / plan.repeats
    new = _edges(strips) / repeats
    share = line_through(np.arange(len(old), dtype=float), old, line)
    return line_through(new, np.arange(len(new), dtype=float), share)


def _edges(strips: Sequence[Fraction]) -> Floats:
    """Seams of one repeat as shares of its height, 0 to 1."""
    edges: Floats = np.array([0, *accumulate(strips)], dtype=float)
    return np.asarray(edges / edges[-1])


def line_through(xs: Floats, ys: Floats, at: Floats) -> Floats:
    """Piecewise linear through (xs, ys), both starting at 0, going on periodically."""
    laps = np.floor(at / xs[-1])
    through: Floats = np.asarray(np.interp(at - laps * xs[-1], xs, ys)) + laps * ys[-1]
    return through


def stepped_line(blocks: Blocks, cells: int = 256) -> Floats:
    """How far each of ``cells`` places across is shifted, as a share of the panel's height."""
    path = unwrapped(blocks.offsets, len(blocks.order))
    edges = _edges(blocks.widths)
    places = (np.arange(cells) + 0.5) / cells
    shown = np.array(path)[
        np.clip(np.searchsorted(edges, places, side="right") - 1, 0, len(path) - 1)
    ]
    seams = _edges(blocks.strips) / blocks.repeats
    return line_through(np.arange(len(seams), dtype=float), seams, shown.astype(float))


def curve_height(blocks: Blocks) -> float:
    """Height of the stepped curve as a share of the panel's."""
    return round(float(np.ptp(stepped_line(blocks))), 4)


def curve_miss(before: Blocks, after: Blocks) -> float:
    """Root mean square distance of the two stepped curves, as a share of the panel's height."""
    apart = stepped_line(before) - stepped_line(after)
    return round(float(np.sqrt(np.mean((apart - apart.mean()) ** 2))), 4)
