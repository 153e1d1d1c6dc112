"""Sequences of several sizes: which is gentlest, and what each more print buys."""

from __future__ import annotations

import math
from dataclasses import replace
from numbers import Integral

from sequencer.errors import UsageError
from sequencer.models import Alternative, Sequence


def sizes_of(pick: int | tuple[int, int] | None) -> tuple[int, ...]:
    """Every size that ``pick`` asks for; none where it is None.

    Raises:
        UsageError: it is no number of prints and no range.
    """
    if pick is None:
        return ()
    ends = pick if isinstance(pick, (tuple, list)) else (pick, pick)
    whole = len(ends) == 2 and all(
        isinstance(end, Integral) and not isinstance(end, bool) for end in ends)
    if not whole or not 1 <= ends[0] <= ends[1]:
        raise UsageError(f"'pick' needs a number of prints from 1 up, or a range such as (5, 8); "
                         f"not {pick!r}.")
    return tuple(range(ends[0], ends[1] + 1))


def gentlest(found: list[Sequence]) -> Sequence:
    """The size whose average step is gentlest, with all sizes and what each more print buys."""
    sizes = []
    before: Sequence | None = None
    for one in found:
        sizes.append(Alternative(one.order, one.total, one.worst, _bought(before, one)))
        before = one
    best = min(found, key=lambda one: (_average(one), -len(one.order)))
    notes = (*best.notes, f"{len(best.order)} prints have the gentlest average step.")
    return replace(best, sizes=tuple(sizes), notes=notes)


def _average(one: Sequence) -> float:
    return one.total / max(len(one.neighbours), 1)


def _bought(before: Sequence | None, one: Sequence) -> str:
    own = math.sqrt(_average(one)) if one.aim == "even" else _average(one)
    text = (f"{len(one.order)} prints: average step {plain_number(own)}, "
            f"largest {plain_number(one.worst)}")
    steps = [pair.value_step for pair in one.neighbours if pair.value_step is not None]
    if before is None or not steps:
        return text + "."
    more = one.total - before.total
    return (f"{text}; against {len(before.order)} prints the total "
            f"{'falls' if more < 0 else 'rises'} by {plain_number(abs(more))}.")


def plain_number(number: float) -> str:
    """Three digits or whole units, never a power of ten."""
    return f"{number:,.0f}" if number >= 100 else f"{number:.3g}"
