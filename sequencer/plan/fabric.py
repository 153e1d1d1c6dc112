"""Strips to cut and what the scraps hold.

Without sizes a strip is one piece. With sizes, strips are cut along the scrap's longer useful
side, one beside the other, and joined end to end where a strip set is longer than the scrap.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.inches import round_down
from sequencer.models import Column, FabricNeed, Print, StripCut
from sequencer.plan.request import Request
from sequencer.plan.shopping import cloth_for, precut_count, quarter_count


def join_loss(seam: str, cut_width: Fraction, allowance: Fraction) -> Fraction:
    """Length that one end-to-end join costs: diagonal, the strip's cut width; straight, 2 seams.

    Sewn at right angles corner to corner, two strips share a square as wide as themselves.
    """
    return cut_width if seam == "diagonal" else 2 * allowance


def reach(pieces: Sequence[Fraction], loss: Fraction) -> Fraction:
    """Length of the pieces joined end to end, each join costing ``loss``."""
    return sum(pieces, loss) - loss * len(pieces) if pieces else Fraction(0)


def strips_in(size: tuple[float, float] | None, cut_width: Fraction, grid: Fraction
              ) -> tuple[int, Fraction] | None:
    """How many strips of what length a scrap yields; None where its size is unknown.

    Cut the way that gives most length, less two strip widths a strip: short ones cost joins.
    """
    if size is None:
        return None
    sides = [round_down(Fraction(str(side)), grid) for side in size]
    ways = [(math.floor(across / cut_width), along) for along, across in (sides, sides[::-1])]
    return max(ways, key=lambda way: (way[0] * (way[1] - 2 * cut_width), way[1]))


class Scraps:
    """Hands out strip pieces print by print, from what is left of each scrap.

    Where the scrap no longer gives a strip, even joined, one piece from elsewhere is assumed;
    ``beyond`` counts such length for each print. A joined strip's last piece is cut just long
    enough, though never too short to be joined.
    """

    def __init__(self, request: Request, prints: Mapping[str, Print]) -> None:
        self.request = request
        self.strips: dict[str, tuple[int, Fraction] | None] = {}
        self.left: dict[str, list[Fraction]] = {}
        self.beyond = dict.fromkeys(request.ids, Fraction(0))
        for key in request.ids:
            cut = request.cut(request.strips[key])
            found = strips_in(prints[key].size_in, cut, request.grid)
            self.strips[key] = found
            self.left[key] = [found[1]] * found[0] if found else []

    def longest_set(self, columns: Sequence[Column]) -> Fraction:
        """Strip sets as long as the shortest scrap that could do its part alone.

        Scraps that are too small in all are not waited for: more of that print is needed anyway.
        """
        request = self.request
        if request.set_length is not None:
            return min(request.set_length, request.usable)
        need = request.repeats * sum((column.cut_width for column in columns), Fraction(0))
        able = [one[1] for one in self.strips.values() if one and one[0] * one[1] >= need]
        worth = max(Fraction(6), 8 * max(request.strips.values()))
        return min(request.usable, max([worth, min(able)])) if able else request.usable

    def __call__(self, print_id: str, cut_width: Fraction, length: Fraction) -> list[Fraction]:
        """Pieces of the print that make a strip of ``length``, in the order they are joined."""
        if self.strips[print_id] is None:
            return [length]
        left = self.left[print_id]
        whole = [piece for piece in left if piece >= length]
        if whole:
            best = min(whole)
            left.remove(best)
            left.append(best - length)
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
        left.append(last - pieces[-1])
        return pieces

    @staticmethod
    def _gather(
        left: Sequence[Fraction], shortest: Fraction, loss: Fraction, length: Fraction
    ) -> list[Fraction]:
        """The longest remnants, as many as are needed or there are; none too short to join."""
        pieces: list[Fraction] = []
        for piece in sorted(left, reverse=True):
            if piece < shortest or reach(pieces, loss) >= length:
                break
            pieces.append(piece)
        return pieces


def fabric_needs(
    request: Request, scraps: Scraps, steps: Sequence[Mapping[str, Any]]
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
    return tuple(_need(scraps, key, strips[key], joins[key]) for key in request.ids)


def _need(scraps: Scraps, key: str, strips: list[StripCut], joins: int) -> FabricNeed:
    needed = sum((strip.length for strip in strips), Fraction(0))
    held = scraps.strips[key]
    have = None
    if held is not None:
        have = held[0] * held[1]
        if scraps.beyond[key]:
            have = min(have, needed - scraps.beyond[key])
    short = Fraction(0) if have is None else max(Fraction(0), needed - have)
    request = scraps.request
    width, lengths = strips[0].width, [strip.length for strip in strips]
    return FabricNeed(
        key, tuple(strips), needed, have, short, joins,
        cloth=cloth_for(request, width, lengths),
        precut_strips=precut_count(request, width, lengths),
        fat_quarters=quarter_count(request, width, lengths),
    )  # fmt: skip
