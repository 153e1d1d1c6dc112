"""What was asked, understood: every width exact, every default chosen, nonsense refused.

:func:`~sequencer.plan.asked.understand.understand` turns the loose arguments of ``plan_columns``
into one frozen :class:`Request`, from which the rest of the room works without looking back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import show_length
from sequencer.plan.asked.customs import Customs


@dataclass(frozen=True)
class Request:
    """A panel as asked. Widths are finished widths in inches unless a name says cut.

    ``ids``: prints in sequence. ``strips``: finished strip of each. ``width``, ``height``: the
    centre. ``grid``: the ruler. ``columns`` and ``offsets`` are None where the curve decides.
    ``tall``: one strip set holds all repeats. ``set_length``: longest strip set, None to choose.
    ``straighten``: taken off each side of a scrap. ``spare``: length of each set to square it
    again. ``joins``: any, few (no strip of more than two pieces) or none.
    """

    ids: tuple[str, ...]
    strips: Mapping[str, Fraction]
    seam: Fraction
    repeats: int
    width: Fraction
    height: Fraction
    grid: Fraction
    units: str
    customs: Customs
    columns: tuple[Fraction, ...] | None
    offsets: tuple[int, ...] | None
    smallest: Fraction
    largest: Fraction | None
    steps: tuple[int, ...]
    symmetric: bool
    price: float
    method: str
    press: str
    tall: bool
    squaring: Fraction
    usable: Fraction
    set_length: Fraction | None
    join: str
    directional: frozenset[str]
    tolerance: Fraction
    straighten: Fraction
    spare: Fraction
    joins: str

    @property
    def rows(self) -> int:
        """Rows of a column: prints × repeats."""
        return len(self.ids) * self.repeats

    def cut(self, finished: Fraction) -> Fraction:
        """Cut width of something with a seam allowance on either side."""
        return finished + 2 * self.seam

    def show(self, length: Fraction) -> str:
        """The length in the piece's own units, for messages."""
        return show_length(length, self.units)


def join_loss(seam: str, cut_width: Fraction, allowance: Fraction) -> Fraction:
    """Length that one end-to-end join costs: diagonal, the strip's cut width; straight, 2 seams.

    Sewn at right angles corner to corner, two strips share a square as wide as themselves.
    """
    return cut_width if seam == "diagonal" else 2 * allowance
