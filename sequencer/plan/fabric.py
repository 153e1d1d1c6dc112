"""Strips to cut and what the scraps hold.

Without sizes a strip is one piece. With sizes, strips are cut along the scrap's longer useful
side, one beside the other, and joined end to end where a strip set is longer than the scrap.
"""

from __future__ import annotations

import math
from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from sequencer.errors import PlanError
from sequencer.inches import round_down
from sequencer.models import Column, FabricNeed, Print, StripCut
from sequencer.plan.request import Request
from sequencer.plan.shopping import cloth_for, precut_count, quarter_count

if TYPE_CHECKING:
    from sequencer.plan.ledger import Handing


def join_loss(seam: str, cut_width: Fraction, allowance: Fraction) -> Fraction:
    """Length that one end-to-end join costs: diagonal, the strip's cut width; straight, 2 seams.

    Sewn at right angles corner to corner, two strips share a square as wide as themselves.
    """
    return cut_width if seam == "diagonal" else 2 * allowance


def reach(pieces: Sequence[Fraction], loss: Fraction) -> Fraction:
    """Length of the pieces joined end to end, each join costing ``loss``."""
    return sum(pieces, loss) - loss * len(pieces) if pieces else Fraction(0)


def strips_in(
    size: tuple[float, float] | tuple[Fraction, Fraction], cut_width: Fraction, grid: Fraction
) -> tuple[int, Fraction]:
    """How many strips of what length a scrap yields.

    Cut the way that gives most length, less two strip widths a strip: short ones cost joins.
    """
    exact = [side if isinstance(side, Fraction) else Fraction(str(side)) for side in size]
    sides = [round_down(side, grid) for side in exact]
    ways = [(math.floor(across / cut_width), along) for along, across in (sides, sides[::-1])]
    return max(ways, key=lambda way: (way[0] * (way[1] - 2 * cut_width), way[1]))


def lanes_of(one: Print, cut_width: Fraction, grid: Fraction) -> list[Fraction] | None:
    """Length of every strip that the print's scraps yield, longest first; None without sizes."""
    sizes = one.scraps or ((one.size_in,) if one.size_in else ())
    if not sizes:
        return None
    found = [strips_in(size, cut_width, grid) for size in sizes]
    return sorted((along for count, along in found for _ in range(count)), reverse=True)


def cloth_area(one: Print) -> Fraction | None:
    """Square inches of the print's scraps; None without sizes."""
    sizes = one.scraps or ((one.size_in,) if one.size_in else ())
    if not sizes:
        return None
    exact = [[Fraction(str(side)) for side in size] for size in sizes]
    return sum((long * short for long, short in exact), Fraction(0))


class Scraps:
    """Hands out strip pieces print by print, from what is left of its scraps.

    Where they no longer give a strip, even joined, one piece from elsewhere is assumed;
    ``beyond`` counts such length for each print. A joined strip's last piece is cut just long
    enough, though never too short to be joined. ``given`` pieces (print → pieces of each of its
    strips, sets in order, top to bottom) are taken as they are.
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
        self.lanes = {
            key: lanes_of(prints[key], request.cut(request.strips[key]), request.grid)
            for key in request.ids
        }
        self.left = {key: sorted(found or ()) for key, found in self.lanes.items()}

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

    def __call__(self, print_id: str, cut_width: Fraction, length: Fraction) -> list[Fraction]:
        """Pieces of the print that make a strip of ``length``, in the order they are joined."""
        if print_id in self.given:
            return self._as_given(print_id, cut_width, length)
        if self.lanes[print_id] is None:
            return [length]
        left = self.left[print_id]
        place = bisect_left(left, length)
        if place < len(left):
            insort(left, left.pop(place) - length)
            return [length]
        loss = join_loss(self.request.join, cut_width, self.request.seam)
        shortest = loss + cut_width / 2
        pieces = self._gather(left, shortest, loss, length)
        surplus = reach(pieces, loss) - length
        if surplus < 0:
            self.beyond[print_id] += length
            return [length]
        for piece in pieces:
            left.remove(piece)
        last = pieces[-1]
        pieces[-1] = max(last - surplus, min(last, shortest))
        insort(left, last - pieces[-1])
        return pieces

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

    @staticmethod
    def _gather(
        left: Sequence[Fraction], shortest: Fraction, loss: Fraction, length: Fraction
    ) -> list[Fraction]:
        """The longest remnants, as many as are needed or there are; none too short to join."""
        pieces: list[Fraction] = []
        for piece in reversed(left):
            if piece < shortest or reach(pieces, loss) >= length:
                break
            pieces.append(piece)
        return pieces


def fabric_needs(
    request: Request, scraps: Scraps | Handing, steps: Sequence[Mapping[str, Any]]
) -> tuple[FabricNeed, ...]:
    """What each print must give, read off the cutting steps, against what its scrap holds.

    ``have_length`` is the scrap's strip length, or what of it serves where remnants are too short.
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
        _need(scraps, key, strips[key], joins[key], bought[tuple(strips[key])])
        for key in request.ids
    )


Bought = tuple[Fraction, int | None, int | None]


def _to_buy(request: Request, strips: Sequence[StripCut]) -> Bought:
    """Off the bolt, in pre-cut strips, in fat quarters."""
    width, lengths = strips[0].width, [strip.length for strip in strips]
    cloth = cloth_for(request, width, lengths)
    return cloth, precut_count(request, width, lengths), quarter_count(request, width, lengths)


def _need(
    scraps: Scraps | Handing, key: str, strips: list[StripCut], joins: int, bought: Bought
) -> FabricNeed:
    needed = sum((strip.length for strip in strips), Fraction(0))
    held = scraps.lanes[key]
    have = None
    if held is not None:
        have = sum(held, Fraction(0))
        if scraps.beyond[key]:
            have = min(have, needed - scraps.beyond[key])
    short = Fraction(0) if have is None else max(Fraction(0), needed - have)
    return FabricNeed(key, tuple(strips), needed, have, short, joins, *bought)
