"""The ledger: for each print its scraps, the strips cut from them, joins, and what is left.

Nothing is lost between the lines: for each print the strips its scraps give are what is cut plus
what is left over, and what is cut is what the strip sets use plus what the joins cost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from sequencer.models import Json, plain
from sequencer.plan.asked import Request
from sequencer.plan.cloth.joins import WHERE, Join
from sequencer.plan.cloth.pieces import ABSENT, Cutting, Piece, stock
from sequencer.plan.cloth.stock import Size


@dataclass(frozen=True)
class Strip:
    """One strip of a set: its pieces in the order they are joined, and where the joins lie."""

    set: str
    number: int
    length: Fraction
    pieces: tuple[Piece, ...]
    joins: tuple[Join, ...]


@dataclass(frozen=True)
class Page:
    """One print's account. ``cutting`` and ``scraps`` are None where no size is known.

    The cutting is proved to lack the least length of whole strips, then to need the fewest joins;
    left-overs are then joined on to new cloth, so that ``short_by`` may be less than that length.
    """

    print: str
    cut_width: Fraction
    loss: Fraction
    scraps: tuple[Size, ...] | None
    cutting: Cutting | None
    strips: tuple[Strip, ...]

    @property
    def short_by(self) -> Fraction:
        """Length of new cloth, cut this wide, that the scraps cannot give."""
        return self.cutting.short_by if self.cutting else Fraction(0)

    @property
    def joins(self) -> int:
        """Joins end to end."""
        return sum(len(strip.pieces) - 1 for strip in self.strips)

    @property
    def lanes(self) -> list[Fraction] | None:
        """Length of every strip the scraps give, longest first."""
        if self.cutting is None:
            return None
        return sorted((length for *_, length in stock(self.cutting.ways)), reverse=True)

    def to_json(self) -> Json:
        """Plain form, lengths as fractions."""
        cutting = self.cutting
        return {
            "print": self.print,
            "cut_width": str(self.cut_width),
            "scraps": None if self.scraps is None or cutting is None else [
                {"size": plain(size), "along": way.along if way else None,
                 "strips": way.count if way else 0,
                 "strip_length": str(way.length) if way else "0",
                 "beside": str(way.beside) if way else None}
                for size, way in zip(self.scraps, cutting.ways, strict=True)
            ],
            "strips": [_strip_json(strip) for strip in self.strips],
            "left": [] if cutting is None else [
                {"scrap": piece.scrap, "length": str(piece.length)} for piece in cutting.left],
            "joins": self.joins,
            "join_loss": str(self.loss * self.joins),
            "short_by": str(self.short_by),
            "status": "assumed" if cutting is None else cutting.status,
            "least": None if cutting is None else {
                "strips_lacking": str(cutting.bound[0]), "joins": cutting.bound[1]},
        }  # fmt: skip


def _strip_json(strip: Strip) -> Json:
    return {
        "set": strip.set,
        "number": strip.number,
        "length": str(strip.length),
        "pieces": [
            {"scrap": None if piece.scrap == ABSENT else piece.scrap, "length": str(piece.length)}
            for piece in strip.pieces
        ],
        "joins": [
            {"from": str(join.start), "to": str(join.end),
             "columns": [column + 1 for column in join.columns], "where": WHERE[join.kind]}
            for join in strip.joins
        ],
    }  # fmt: skip


@dataclass(frozen=True)
class Ledger:
    """Every print's page, in sequence."""

    pages: Mapping[str, Page]

    @property
    def short(self) -> dict[str, Fraction]:
        """What is lacking, by print."""
        return {key: page.short_by for key, page in self.pages.items() if page.short_by}

    @property
    def joins(self) -> int:
        """Joins end to end in all."""
        return sum(page.joins for page in self.pages.values())

    @property
    def status(self) -> str:
        """Optimal if every page is, else bounded."""
        pages = [page.cutting.status for page in self.pages.values() if page.cutting]
        return "optimal" if all(status == "optimal" for status in pages) else "bounded"

    def to_json(self) -> Json:
        """Document ``passalong.ledger/1``."""
        return {
            "schema": "passalong.ledger/1",
            "status": self.status,
            "prints": [page.to_json() for page in self.pages.values()],
        }


class Handing:
    """Hands the ledger's pieces to the sewing steps, strip by strip in order."""

    def __init__(self, request: Request, ledger: Ledger) -> None:
        self.request = request
        self.lanes = {key: page.lanes for key, page in ledger.pages.items()}
        self.beyond = {key: page.short_by for key, page in ledger.pages.items()}
        self.waiting = {key: iter(page.strips) for key, page in ledger.pages.items()}

    def __call__(self, print_id: str, cut_width: Fraction, length: Fraction) -> list[Fraction]:
        """Pieces of the print's next strip, in the order they are joined."""
        return [piece.length for piece in next(self.waiting[print_id]).pieces]
