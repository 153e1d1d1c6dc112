"""Strips to cut and what the scraps hold.

Without sizes a strip is one piece. With sizes, strips are cut along the scrap's longer useful
side, one beside the other, and joined end to end where a strip set is longer than the scrap.
Strip sets are as long as serves the scraps best, see :mod:`sequencer.plan.cloth.setlength`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from sequencer.errors import PlanError
from sequencer.inches import EIGHTH, round_down
from sequencer.models import Column, FabricNeed, Print, StripCut
from sequencer.plan.asked import Request, join_loss
from sequencer.plan.cloth.sharing import Share, share_out
from sequencer.plan.cloth.shopping import cloth_for, precut_count, quarter_count
from sequencer.plan.sewing import StripSet

if TYPE_CHECKING:
    from sequencer.plan.cloth.ledger import Handing


def reach(pieces: Sequence[Fraction], loss: Fraction) -> Fraction:
    """Length of the pieces joined end to end, each join costing ``loss``."""
    return sum(pieces, loss) - loss * len(pieces) if pieces else Fraction(0)


def strips_in(
    sides: tuple[Fraction, Fraction], cut_width: Fraction, directional: bool = False
) -> tuple[int, Fraction]:
    """How many strips of what length a scrap yields.

    Cut the way that gives most length, less two strip widths a strip: short ones cost joins. A
    directional print is cut along its first side only.
    """
    return max(
        _ways(sides, cut_width, directional),
        key=lambda way: (way[0] * (way[1] - 2 * cut_width), way[1]),
    )


def _ways(
    sides: tuple[Fraction, Fraction], cut_width: Fraction, directional: bool
) -> list[tuple[int, Fraction]]:
    turned = [sides] if directional else [sides, sides[::-1]]
    return [(math.floor(across / cut_width), along) for along, across in turned]


def sizes_of(one: Print, request: Request) -> list[tuple[Fraction, Fraction]]:
    """Sides of the print's scraps, rounded down to the ruler; empty where no size is known.

    As typed, else as measured: a photograph measures no finer than 1/8 in, or the metric ruler.
    """
    measured = request.grid if request.units == "cm" else max(request.grid, EIGHTH)
    grid = request.grid if one.scraps else measured
    sizes = one.scraps or ((one.cuttable_in,) if one.cuttable_in else ())
    exact = [tuple(side if isinstance(side, Fraction) else Fraction(str(side)) for side in size)
             for size in sizes]  # fmt: skip
    return [(max(Fraction(0), round_down(along, grid)), max(Fraction(0), round_down(across, grid)))
            for along, across in exact]  # fmt: skip


def held_by(one: Print, request: Request) -> Fraction | None:
    """Most length of strip that the print's scraps give, whichever way; None without sizes.

    What is shorter than it is wide is no strip.
    """
    cut, directional = request.cut(request.strips[one.id]), one.id in request.directional
    ways = [_ways(sides, cut, directional) for sides in sizes_of(one, request)]
    most = (max(count * along * (along >= cut) for count, along in way) for way in ways)
    return sum(most, Fraction(0)) if ways else None


def lanes_of(one: Print, request: Request) -> list[Fraction] | None:
    """Length of every strip that the print's scraps yield, longest first; None without sizes."""
    cut, directional = request.cut(request.strips[one.id]), one.id in request.directional
    sizes = sizes_of(one, request)
    found = [strips_in(sides, cut, directional) for sides in sizes]
    lanes = (along for count, along in found for _ in range(count) if along >= cut)
    return sorted(lanes, reverse=True) if sizes else None


def cloth_area(one: Print) -> Fraction | None:
    """Square inches of the print's scraps; None without sizes."""
    sizes = one.scraps or ((one.cuttable_in,) if one.cuttable_in else ())
    if not sizes:
        return None
    exact = [[Fraction(str(side)) for side in size] for size in sizes]
    return sum((long * short for long, short in exact), Fraction(0))


class Scraps:
    """What the scraps hold, and who gets which piece of it.

    :meth:`share` settles all strips of a print together (see :mod:`sequencer.plan.cloth.sharing`);
    calling it then hands them out set by set. ``beyond`` counts, for each print, the length that
    has to come from other cloth. ``given`` pieces (print → pieces of each of its strips, sets in
    order, top to bottom) are taken as they are.
    """

    def __init__(
        self,
        request: Request,
        prints: Mapping[str, Print],
        given: Mapping[str, list[list[Fraction]]] | None = None,
    ) -> None:
        self.request = request
        self.given = {key: list(strips) for key, strips in (given or {}).items()}
        self.beyond = dict.fromkeys(request.ids, Fraction(0))
        self.lanes = {key: lanes_of(prints[key], request) for key in request.ids}
        self.waiting: dict[str, Iterator[list[Fraction]]] = {}
        self._terms: dict[str, tuple[tuple[int, ...], int, int]] = {}
        lengths = [x for lanes in self.lanes.values() for x in lanes or ()]
        self.unit = math.lcm(*(x.denominator for x in (
            request.seam, request.grid, request.squaring, *request.strips.values(), *lengths)))
        """Parts of an inch in which every length here is a whole number."""

    def longest_set(self, columns: Sequence[Column]) -> Fraction:
        """Strip sets as long as the shortest scrap that could do its part alone.

        Scraps that are too small in all are not waited for: more of that print is needed anyway.
        """
        request = self.request
        if request.set_length is not None:
            return min(request.set_length, request.usable)
        need = request.repeats * sum((column.cut_width for column in columns), Fraction(0))
        able = [found[0] for found in self.lanes.values() if found and sum(found) >= need]
        worth = max(Fraction(6), 8 * max(request.strips.values()))
        return min(request.usable, max([worth, min(able)])) if able else request.usable

    @property
    def sized(self) -> list[str]:
        """Prints whose scraps have a size."""
        return [key for key, lanes in self.lanes.items() if lanes is not None]

    def share(self, sets: Sequence[StripSet]) -> None:
        """Settle where every strip of these sets comes from."""
        for key, lanes in self.lanes.items():
            wanted = [one.length for one in sets for _ in range(one.order.count(key))]
            if lanes is None or key in self.given:
                self.waiting[key] = iter([[length] for length in wanted])
                continue
            shared = self.try_out(key, [int(length * self.unit) for length in wanted])
            self.beyond[key] = Fraction(shared.beyond, self.unit)
            self.waiting[key] = iter(
                [[Fraction(piece, self.unit) for piece in strip] for strip in shared.pieces]
            )

    def try_out(self, key: str, wanted: Sequence[int]) -> Share:
        """How a print's strips would be shared out; lengths in parts of an inch, see ``unit``."""
        lanes, loss, shortest = self.terms(key)
        return share_out(lanes, wanted, loss, shortest)

    def terms(self, key: str) -> tuple[tuple[int, ...], int, int]:
        """Lanes, what a join costs, and the shortest piece worth joining, in parts of an inch."""
        if key not in self._terms:
            cut = self.request.cut(self.request.strips[key])
            loss = join_loss(self.request.join, cut, self.request.seam)
            lanes = tuple(int(length * self.unit) for length in self.lanes[key] or ())
            shortest = math.ceil((loss + cut / 2) * self.unit)
            self._terms[key] = lanes, int(loss * self.unit), shortest
        return self._terms[key]

    def __call__(self, print_id: str, cut_width: Fraction, length: Fraction) -> list[Fraction]:
        """Pieces of the print that make a strip of ``length``, in the order they are joined."""
        if print_id in self.given:
            return self._as_given(print_id, cut_width, length)
        return next(self.waiting[print_id])

    def _as_given(self, print_id: str, cut_width: Fraction, length: Fraction) -> list[Fraction]:
        show, strips = self.request.show, self.given[print_id]
        if not strips:
            raise PlanError(f"Pieces for {print_id} are given for too few strips.")
        pieces = strips.pop(0)
        loss = join_loss(self.request.join, cut_width, self.request.seam)
        if len(pieces) > 1 and min(pieces) <= loss:
            raise PlanError(
                f"A piece of {print_id} {show(min(pieces))} long cannot be joined: the seam alone "
                f"takes {show(loss)}."
            )
        if reach(pieces, loss) < length:
            raise PlanError(
                f"Pieces of {print_id} reach {show(reach(pieces, loss))} when joined, but the "
                f"strip set needs {show(length)}."
            )
        return pieces


def fabric_needs(
    request: Request,
    known: Mapping[str, Print],
    scraps: Scraps | Handing,
    steps: Sequence[Mapping[str, Any]],
) -> tuple[FabricNeed, ...]:
    """What each print must give, read off the cutting steps, against what its scraps hold.

    ``have_length`` is all the strip that the scraps give at this width, whether or not its pieces
    can be joined to the lengths wanted; ``short_by`` is what must come from other cloth.
    """
    strips: dict[str, list[StripCut]] = {key: [] for key in request.ids}
    source: dict[str, str] = {}
    joins = dict.fromkeys(request.ids, 0)
    for step in steps:
        if step["op"] == "cut_strip":
            strips[step["print"]].append(StripCut(step["width"], step["length"]))
            source[step["makes"]] = step["print"]
        elif step["op"] == "join_ends":
            joins[source[step["takes"][0]]] += len(step["takes"]) - 1
    bought: dict[tuple[StripCut, ...], Bought] = {}  # most prints need the very same strips
    for key in request.ids:
        if tuple(strips[key]) not in bought:
            bought[tuple(strips[key])] = _to_buy(request, strips[key])
    return tuple(
        _need(request, known[key], _beyond(scraps, key), strips[key], joins[key],
              bought[tuple(strips[key])])
        for key in request.ids
    )


Bought = tuple[Fraction, int | None, int | None]


def _to_buy(request: Request, strips: Sequence[StripCut]) -> Bought:
    """Off the bolt, in pre-cut strips, in fat quarters."""
    width, lengths = strips[0].width, [strip.length for strip in strips]
    cloth = cloth_for(request, width, lengths)
    return cloth, precut_count(request, width, lengths), quarter_count(request, width, lengths)


def _beyond(scraps: Scraps | Handing, key: str) -> Fraction | None:
    """Length from other cloth; None where the pieces were given and nobody has counted."""
    given = isinstance(scraps, Scraps) and key in scraps.given
    return None if given else scraps.beyond[key]


def _need(
    request: Request,
    one: Print,
    beyond: Fraction | None,
    strips: list[StripCut],
    joins: int,
    bought: Bought,
) -> FabricNeed:
    needed = sum((strip.length for strip in strips), Fraction(0))
    have = held_by(one, request)
    short = Fraction(0)
    if have is not None:
        short = max(Fraction(0), needed - have) if beyond is None else beyond
        have = max(have, needed - short)  # slivers that rounding left out
    return FabricNeed(one.id, tuple(strips), needed, have, short, joins, *bought)
