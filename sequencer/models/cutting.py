"""Cloth of a plan: columns, strips in their scraps, what each print must give, strip sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer.models.plainly import Json, plain


@dataclass(frozen=True)
class Column:
    """One column: widths in inches, ``offset`` in prints against the first print (≥ 0, < n)."""

    cut_width: Fraction
    finished_width: Fraction
    offset: int

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "cut_width": str(self.cut_width),
            "finished_width": str(self.finished_width),
            "offset": self.offset,
        }


@dataclass(frozen=True)
class StripCut:
    """One strip to cut: width across, length along."""

    width: Fraction
    length: Fraction

    def to_json(self) -> Json:
        """The contract's object."""
        return {"width": str(self.width), "length": str(self.length)}


Point = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class ScrapCut:
    """One strip in its scrap: ``width`` across, ``length`` along the scrap's ``along`` side.

    ``at``: its corner, x along the scrap's long side, from the squared corner. ``makes``: the
    name that its cut_strip step gives it.
    """

    at: Point
    along: str
    width: Fraction
    length: Fraction
    makes: str

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "at": plain(self.at),
            "along": self.along,
            "width": str(self.width),
            "length": str(self.length),
            "makes": self.makes,
        }


@dataclass(frozen=True)
class ScrapUse:
    """What is cut from scrap number ``scrap`` (from 0, as in the print's list), and what is left.

    Sides are (long, short). ``usable``: what straightening leaves. ``at_least``: the smallest
    scrap that the cuts fit. ``cuts``: in the order of cutting. ``left``: (x, y, width, height).
    ``sure``: the cuts fit even if the photo measured the scrap too large.
    """

    scrap: int
    size: Point
    usable: Point
    at_least: Point
    cuts: tuple[ScrapCut, ...]
    left: tuple[tuple[Fraction, Fraction, Fraction, Fraction], ...]
    sure: bool = True

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "scrap": self.scrap,
            "size": plain(self.size),
            "usable": plain(self.usable),
            "at_least": plain(self.at_least),
            "cuts": [cut.to_json() for cut in self.cuts],
            "left": plain(self.left),
            "sure": self.sure,
        }


@dataclass(frozen=True)
class EdgeUse:
    """Border and binding cut from what the strips leave of a scrap: ``use.cuts`` come after the
    strips' own, ``use.left`` is left after both, and ``use.at_least`` counts both.
    """

    print: str
    use: ScrapUse

    def to_json(self) -> Json:
        """Print, then as a scrap of the contract."""
        return {"print": self.print, **self.use.to_json()}


@dataclass(frozen=True)
class FabricNeed:
    """What one print must give. ``have_length`` is None where the scrap's size is unknown.

    ``short_by``: length of strip that no scrap holds. ``scraps``: what is cut from each.
    ``piece``: where no size is known, (long, short) of a piece that holds all strips.
    To buy instead: ``cloth`` off the bolt, or so many pre-cut strips or fat quarters (None where
    the strips are too wide for them).
    """

    print: str
    strips: tuple[StripCut, ...]
    needed_length: Fraction
    have_length: Fraction | None
    short_by: Fraction
    joins: int
    cloth: Fraction | None = None
    precut_strips: int | None = None
    fat_quarters: int | None = None
    scraps: tuple[ScrapUse, ...] = ()
    piece: Point | None = None

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "print": self.print,
            "strips": [strip.to_json() for strip in self.strips],
            "needed_length": str(self.needed_length),
            "have_length": None if self.have_length is None else str(self.have_length),
            "short_by": str(self.short_by),
            "joins": self.joins,
            "cloth": None if self.cloth is None else str(self.cloth),
            "precut_strips": self.precut_strips,
            "fat_quarters": self.fat_quarters,
            "scraps": [use.to_json() for use in self.scraps],
            "piece": plain(self.piece),
        }


@dataclass(frozen=True)
class SetStrip:
    """One strip of a set, ``number`` from the top: its pieces from the squared end on.

    ``pieces``: name, scrap (None: no scrap holds it) and length of each. ``joins``: for each,
    ``from`` and ``to`` in inches from the squared end, the ``columns`` it falls into (from 1),
    and ``where`` in words.
    """

    number: int
    print: str
    pieces: tuple[tuple[str, int | None, Fraction], ...]
    joins: tuple[Mapping[str, Any], ...] = ()

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "strip": self.number,
            "print": self.print,
            "pieces": [
                {"makes": makes, "scrap": scrap, "length": str(length)}
                for makes, scrap, length in self.pieces
            ],
            "joins": [plain(join) for join in self.joins],
        }


@dataclass(frozen=True)
class SetTable:
    """One strip set: what its strips are cut to, what squaring takes, what is to spare.

    ``columns``: numbers (from 1) of the columns cut from it, in cutting order; a column that is
    stacked from several segments comes as often.
    """

    name: str
    press: str
    length: Fraction
    squaring: Fraction
    spare: Fraction
    columns: tuple[int, ...]
    strips: tuple[SetStrip, ...]

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "set": self.name,
            "press": self.press,
            "length": str(self.length),
            "squaring": str(self.squaring),
            "spare": str(self.spare),
            "columns": list(self.columns),
            "strips": [strip.to_json() for strip in self.strips],
        }
