"""Columns of a plan without its sewing: what a search looks at before it plans."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sequencer.errors import UsageError
from sequencer.models import Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.asked import PlanWishes, Request, understand
from sequencer.plan.columns import Followed, follow
from sequencer.plan.curve import Curve, heights
from sequencer.plan.options import curve_wished


def check_options(options: Mapping[str, Any], settled: Sequence[str]) -> None:
    """Refuse options that ``plan_columns`` does not have or that the search settles itself."""
    PlanWishes.of(options)
    fixed = sorted(set(options) & set(settled))
    if fixed:
        raise UsageError(f"This search settles {', '.join(fixed)} itself; leave it out.")


def ask(
    prints: Sequence[Print], seq: Ordered | Sequence[str], options: Mapping[str, Any]
) -> tuple[Request, Curve]:
    """The request and curve that ``plan_columns`` would work from with these options."""
    wishes = PlanWishes.of(options)
    return understand(prints, seq, wishes), curve_wished(wishes)


class Fits:
    """Columns along one curve, remembered: panels with the same width, smallest column and curve
    height have the same columns, however many rows they have.
    """

    def __init__(self) -> None:
        self.known: dict[tuple[Any, ...], Followed] = {}

    def __call__(self, request: Request, curve: Curve) -> Followed:
        """What :func:`~sequencer.plan.columns.follow.follow` gives."""
        cells, smallest = int(request.width / request.grid), int(request.smallest / request.grid)
        _, height = heights(curve, cells, smallest, max(request.steps), request.rows)
        key = (request.ids, request.width, request.smallest, height)
        if key not in self.known:
            self.known[key] = follow(request, curve)
        return self.known[key]
