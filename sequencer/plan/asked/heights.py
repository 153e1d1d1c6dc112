"""The height: strips and repeats that make it, or the nearest ones that would."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError, UsageError
from sequencer.inches import on_grid, round_down, round_up, show_length
from sequencer.plan.asked.customs import INCH_GRIDS, METRIC, MM_GRIDS, MOST_ROWS, Customs
from sequencer.plan.asked.loose import read_strips

NEAR = 400
"""Ruler steps within which a height that can be filled is looked for."""


def settle_height(
    ids: tuple[str, ...],
    strip: Any,
    repeats: int | None,
    wanted: tuple[Fraction, Fraction] | None,
    customs: Customs,
    seam: Fraction,
    fitted: Mapping[str, Any] | None = None,
) -> tuple[dict[str, Fraction], int]:
    """Finished strips and the number of repeats that make the height, or who is nearest.

    ``fitted``: widths that ``fit`` found before. Each print keeps its own, in whatever order they
    lie, for as long as together they still make the height.
    """
    if repeats is not None and not isinstance(repeats, int):
        raise UsageError(f"Repeats {repeats} is not a whole number.")
    if repeats is not None and repeats < 1:
        raise UsageError(f"Repeats {repeats}: at least 1 is needed.")
    if repeats is not None and repeats * len(ids) > MOST_ROWS:
        raise PlanError(
            f"{len(ids)} prints × {repeats} repeats are {len(ids) * repeats} rows; "
            f"{MOST_ROWS} is the most that makes sense. Use fewer repeats."
        )
    if strip is None and wanted is not None:
        strip = "fit"
    ruler = (MM_GRIDS if customs is METRIC else INCH_GRIDS)[0]
    strips = read_strips(ids, strip, max(customs.strip, round_up(seam, ruler)))
    if strips is None:
        if wanted is None:
            raise UsageError("Strip 'fit' needs a size to fit to.")
        if held := _still_fit(ids, fitted, wanted[1], repeats, seam):
            return held
        return fit_strips(ids, wanted[1], repeats, seam, customs)
    if wanted is None:
        return strips, 3 if repeats is None else repeats
    one = sum(strips.values(), Fraction(0))
    if repeats is None:
        repeats = max(1, round(wanted[1] / one))
        if repeats * len(ids) > MOST_ROWS:
            raise PlanError(f"{repeats * len(ids)} rows are needed for that height with such "
                            "narrow strips. Use wider strips.")  # fmt: skip
    if one * repeats != wanted[1]:
        _wrong_height(ids, strips, repeats, wanted[1], customs, seam)
    return strips, repeats


def _still_fit(
    ids: tuple[str, ...],
    fitted: Mapping[str, Any] | None,
    height: Fraction,
    repeats: int | None,
    seam: Fraction,
) -> tuple[dict[str, Fraction], int] | None:
    """Widths found before, where they are those of just these prints and make the height."""
    if fitted is None:
        return None
    if not isinstance(fitted, Mapping):
        raise UsageError(f"Fitted {fitted!r} is not a mapping from print to width.")
    if set(fitted) != set(ids):
        return None
    strips = read_strips(ids, fitted, seam)
    one = sum(strips.values(), Fraction(0)) if strips else Fraction(0)
    if not strips or min(strips.values()) < seam or height % one:
        return None
    count = int(height / one)
    return (strips, count) if repeats in (None, count) else None


def _wrong_height(
    ids: tuple[str, ...],
    strips: Mapping[str, Fraction],
    repeats: int,
    height: Fraction,
    customs: Customs,
    seam: Fraction,
) -> None:
    units = "cm" if customs is METRIC else "in"
    one = sum(strips.values(), Fraction(0))
    near = max(1, math.floor(height / one))
    show = [f"{show_length(one * count, units)} ({_times(count)})" for count in (near, near + 1)]
    even = height / (len(ids) * repeats)
    ruled = on_grid(even, (MM_GRIDS if units == "cm" else INCH_GRIDS)[-1]) and even >= seam
    exactly = f"Strips of {show_length(even, units)} would do it exactly. " if ruled else ""
    exactly += "Without a strip width, one or two widths of the ruler are chosen to fill it."
    raise PlanError(
        f"{len(ids)} prints × {_times(repeats)} in these strips are "
        f"{show_length(one * repeats, units)} high, not {show_length(height, units)}. Nearest: "
        f"{' or '.join(show)}. {exactly}"
    )


def _times(repeats: int) -> str:
    return "1 repeat" if repeats == 1 else f"{repeats} repeats"


def fit_strips(
    ids: tuple[str, ...],
    height: Fraction,
    repeats: int | None,
    seam: Fraction,
    customs: Customs,
) -> tuple[dict[str, Fraction], int]:
    """Strips of one ruler width, or two neighbouring ones, whose repeats are exactly as high.

    One width is tried first, then a mix, on the coarser ruler first; with ``repeats`` None near
    three repeats first and a single one last. Of two widths the wider ones are spread evenly
    through the sequence.

    Raises:
        PlanError: no number of repeats fits; says what would.
    """
    n, grids = len(ids), (MM_GRIDS[:1] if customs is METRIC else INCH_GRIDS[:2])
    many = [repeats] if repeats else [3, 4, 2, 5, 6]
    for tries in (many, [] if repeats else [1]):
        found = _first_fit(n, height, seam, tries, grids)
        if found:
            return dict(zip(ids, found[0], strict=True)), found[1]
    unit = "cm" if customs is METRIC else "in"
    near = _near_heights(n, height, seam, repeats, grids)
    raise PlanError(
        f"{n} prints cannot fill {show_length(height, unit)} exactly on the ruler with strips of "
        f"at least {show_length(seam, unit)}. Nearest: "
        f"{' or '.join(show_length(one, unit) for one in near)}. Or use fewer prints or repeats."
    )


def _near_heights(
    n: int, height: Fraction, seam: Fraction, repeats: int | None, grids: Sequence[Fraction]
) -> list[Fraction]:
    """The next lower and the next higher height that strips on the ruler fill."""
    tries = [repeats] if repeats else [1, 2, 3, 4, 5, 6]
    least = n * round_up(seam, grids[0]) * min(tries)
    if height < least:
        return [least]
    found = []
    for sign, start in ((-1, round_down(height, grids[0])), (1, round_up(height, grids[0]))):
        heights = (start + sign * steps * grids[0] for steps in range(NEAR))
        fill = (one for one in heights
                if one >= least and _first_fit(n, one, seam, tries, grids))  # fmt: skip
        found += list(itertools.islice(fill, 1))
    return found


def _first_fit(
    n: int, height: Fraction, seam: Fraction, tries: Sequence[int], grids: Sequence[Fraction]
) -> tuple[list[Fraction], int] | None:
    for mixed, grid, count in itertools.product((False, True), grids, tries):
        units, rest = divmod(height / count / grid, 1)
        low, wider = divmod(units, n)
        if rest or low * grid < seam or (wider > 0) != mixed:
            continue
        marks = [(i + 1) * wider // n - i * wider // n for i in range(n)]
        return [(low + mark) * grid for mark in marks], count
    return None
