"""What the usual limits of a choice cost: which of them made it dearer, and what they left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from sequencer.models import Sequence
from sequencer.order.graph.costs import Box
from sequencer.order.report import totals
from sequencer.order.search.question import Question
from sequencer.order.search.tables.layers import solve_layers
from sequencer.order.sizes import plain_number
from sequencer.order.wishes.asked import Asked, Usual, ask
from sequencer.order.wishes.wish import Wishes

_WIDTH = 60
"""Of the layers in which a cheaper choice is looked for: quick, and what it finds is one."""


def what_binds(
    wishes: Wishes, limits: Usual, asked: Asked, best: Sequence, deadline: float
) -> Iterator[str]:
    """Each of the two limits without which a better choice is found, and how much better.

    ``limits``: those that the choice ``best`` was ``asked`` with; ``deadline`` in time.monotonic
    seconds.
    """
    for kind, words, off in (
        ("distinct", "neighbours distinct enough", replace(limits, distinct=None, blurs=None)),
        ("value range", "enough value range", replace(limits, value_range=None)),
    ):
        rest = wishes.only([wish for wish in wishes.wishes if wish.kind != kind])
        aim = "level" if best.aim == "worst" else best.aim
        bound, free = (ask(asked.box, *one).question for one in (
            (wishes, aim, limits), (rest, aim, off)))
        least = None if _same(bound, free) else _least(free, asked.box, best.aim, deadline)
        own = _figure(best.aim, best.total, best.worst)
        if least is not None and least < own and plain_number(least) != plain_number(own):
            figure = "largest step" if best.aim == "worst" else "total"
            yield (f"Keeping {words} costs something here: the {figure} is {plain_number(own)}, "
                   f"without that limit it could be {plain_number(least)}.")


def _figure(aim: str, total: float, worst: float) -> float:
    """What is made least first."""
    return worst if aim == "worst" else total


def _same(bound: Question, free: Question) -> bool:
    return bound.value_range == free.value_range and bool((bound.weights == free.weights).all())


def _least(free: Question, box: Box, aim: str, deadline: float) -> float | None:
    """The figure of a choice that is found in a moment; None where none is."""
    quick = solve_layers(free, deadline, widths=(_WIDTH,))
    if quick.order is None:
        return None
    return _figure(aim, *totals(box, quick.order, free.loop, aim))


def left_alone(box: Box, limits: Usual) -> list[str]:
    """The prints that jump beside every other, and so were not chosen."""
    if limits.alone is None or not limits.alone.any():
        return []
    names = [str(box.ids[i]) for i in np.flatnonzero(limits.alone).tolist()]
    some = ", ".join(names[:4]) + (" …" if len(names) > 4 else "")
    has, it = ("has", "it") if len(names) == 1 else ("have", "them")
    return [f"{some} {has} no companion in this box and would jump wherever laid, so the choice "
            f"was made without {it}; wish for {it} (include) to have {it} in."]
