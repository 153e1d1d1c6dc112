"""The ledger: for each print its scraps, and which piece of which scrap makes which strip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from sequencer.models import ScrapUse
from sequencer.plan.cloth.laying.cuttings import ABSENT
from sequencer.plan.cloth.laying.joins import Join
from sequencer.plan.cloth.scraps import Scrap
from sequencer.plan.sewing import Supplied


@dataclass(frozen=True)
class Part:
    """``length`` inches of lane ``lane`` of scrap ``scrap`` (ABSENT: of cloth not in the box)."""

    scrap: int
    lane: int
    length: Fraction


@dataclass(frozen=True)
class Strip:
    """One strip of a set: its pieces from the squared end on, and where the joins lie."""

    set: str
    number: int
    length: Fraction
    pieces: tuple[Part, ...]
    joins: tuple[Join, ...]


@dataclass(frozen=True)
class Page:
    """One print's account. ``scraps`` is None where no size is known.

    ``held``: most length of strip that the scraps give. ``proved``: nothing can be shorter of
    cloth, or as short with fewer joins, with strip sets of these lengths. ``uses``: the cuts in
    each scrap. ``supplied``: the pieces of each strip with their places, strips in order.
    """

    print: str
    scraps: tuple[Scrap, ...] | None
    strips: tuple[Strip, ...]
    held: Fraction
    proved: bool
    uses: tuple[ScrapUse, ...]
    supplied: tuple[tuple[Supplied, ...], ...]

    @property
    def short_by(self) -> Fraction:
        """Length of strip that no scrap holds."""
        if self.scraps is None:
            return Fraction(0)
        return sum((p.length for strip in self.strips for p in strip.pieces if p.scrap == ABSENT),
                   Fraction(0))  # fmt: skip

    @property
    def joins(self) -> int:
        """Joins end to end."""
        return sum(len(strip.pieces) - 1 for strip in self.strips)


@dataclass(frozen=True)
class Ledger:
    """Every print's page, in sequence; ``tried``: how many lengths of strip set were.

    ``least_short``: strip that would lack with any of them, in inches.
    """

    pages: Mapping[str, Page]
    tried: int = 1
    least_short: Fraction = Fraction(0)

    @property
    def short(self) -> dict[str, Fraction]:
        """What is lacking, by print."""
        return {key: page.short_by for key, page in self.pages.items() if page.short_by}

    @property
    def uses(self) -> dict[str, tuple[ScrapUse, ...]]:
        """What is cut from each print's scraps."""
        return {key: page.uses for key, page in self.pages.items()}

    @property
    def joins(self) -> int:
        """Joins end to end in all."""
        return sum(page.joins for page in self.pages.values())


class Handing:
    """Hands the ledger's pieces to the sewing steps, strip by strip in order."""

    def __init__(self, ledger: Ledger) -> None:
        self.waiting = {key: iter(page.supplied) for key, page in ledger.pages.items()}

    def __call__(self, print_id: str) -> tuple[Supplied, ...]:
        """Pieces of the print's next strip, in the order they are joined."""
        return next(self.waiting[print_id])
