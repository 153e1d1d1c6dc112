"""What sewing steps tell of a plan: its strip sets, and each column with its cuts and seams."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Cut:
    """One segment: the ``number``-th cut from strip set ``of`` (both from 1).

    ``ring``: whether the set's ends were sewn together before. ``start``: where it begins along
    the set as sewn, in inches from the end that is squared, before squaring.
    """

    of: int
    number: int
    width: Fraction
    ring: bool = False
    start: Fraction = Fraction(0)

    @property
    def end(self) -> Fraction:
        """Where it ends along the set as sewn."""
        return self.start + self.width


@dataclass(frozen=True)
class Opened:
    """A seam that is opened: the prints above and below it, and the seam's place from the top.

    ``alike``: how many seams of a ring would do as well.
    """

    above: str
    below: str
    place: int
    alike: int = 1


@dataclass(frozen=True)
class Piece:
    """One piece cut from a scrap: ``scrap``, ``along`` and ``at`` as in the step, or None."""

    print: str
    width: Fraction
    length: Fraction
    makes: str = ""
    scrap: int | None = None
    along: str | None = None
    at: tuple[Fraction, Fraction] | None = None


@dataclass(frozen=True)
class Strip:
    """A strip as it goes into a set: its pieces from the squared end, ``seam`` between them.

    ``lost``: strip length that each join takes.
    """

    pieces: tuple[Piece, ...]
    seam: str = ""
    lost: Fraction = Fraction(0)

    @property
    def print(self) -> str:
        """The print of all its pieces."""
        return self.pieces[0].print

    @property
    def width(self) -> Fraction:
        """Cut width."""
        return self.pieces[0].width

    @property
    def length(self) -> Fraction:
        """Length once joined."""
        return sum((p.length for p in self.pieces), -self.lost * (len(self.pieces) - 1))

    def spans(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """Where each join lies along the strip, from the squared end: first and last inch."""
        reach, found = Fraction(0), []
        for piece in self.pieces[:-1]:
            reach += piece.length
            found.append((reach - self.lost, reach))
            reach -= self.lost
        return tuple(found)


@dataclass(frozen=True)
class StripSet:
    """One strip set as sewn: prints top to bottom, pressing, and what squaring takes off.

    ``label``: what the plan calls it; ``number``: what the sheets call it, since letters here
    stand for prints.
    """

    number: int
    label: str
    strips: tuple[Strip, ...]
    press: str
    squared: Fraction = Fraction(0)

    @property
    def prints(self) -> tuple[str, ...]:
        """Prints from the top."""
        return tuple(strip.print for strip in self.strips)

    @property
    def length(self) -> Fraction:
        """As sewn, the shortest strip counting."""
        return min(strip.length for strip in self.strips)


@dataclass(frozen=True)
class ColumnTrail:
    """How one column came about, cuts from top to bottom."""

    patches: tuple[str, ...]
    cuts: tuple[Cut, ...]
    opened: tuple[Opened, ...]


@dataclass(frozen=True)
class Trail:
    """All strip sets and, left to right, all columns."""

    sets: tuple[StripSet, ...]
    columns: tuple[ColumnTrail, ...]
