"""The largest piece, the best piece, the best of a size: one search for each goal."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from sequencer.errors import UsageError
from sequencer.inches import with_units
from sequencer.models import Plan, Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.answers.asking import check_options
from sequencer.plan.answers.goals import WALL, Goal
from sequencer.plan.answers.search import Search
from sequencer.plan.answers.space import Space
from sequencer.plan.asked import LARGEST_SIDE, Length, length, read_size


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
    goal = Goal("largest", (low, high), LARGEST_SIDE)
    return Search(Space(prints, seq, options, strip, goal)).run()


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
    return Search(Space(prints, seq, given, strip, Goal("best", shape, WALL))).run()


def best_at(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    size: str | Sequence[Length],
    **options: Any,
) -> Plan:
    """The panel of this centre size that follows the curve closest and that the scraps can give.

    Searched: every number of repeats whose strips can fill the height on the ruler, strips as
    equal as the scraps allow (scarce prints get the narrower ones), smallest columns from the seam
    allowance to four of them, flat and loop. Closeness is the columns' root mean square miss as a
    share of the curve's height; of equals the panel with fewest rows, columns and joins is best.

    Raises:
        UsageError: an option or size that cannot be understood or that the search settles itself.
        PlanError: no such panel can be sewn, or none can be cut from the scraps; says what lacks.
    """
    check_options(options, ("strip", "repeats", "smallest"))
    wanted = read_size(with_units(size, str(options.get("units") or "in")))
    if wanted is None:
        raise UsageError("The best piece of which size? Write width x height, like 8x10.")
    shape = wanted[0] / wanted[1], wanted[0] / wanted[1]
    goal = Goal("best at a size", shape, max(wanted), wanted)
    return Search(Space(prints, seq, options, None, goal)).run()
