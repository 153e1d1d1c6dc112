"""Border and binding cut from what the strips leave of the scraps, where one print's scraps do.

Each border piece is cut whole from the left-over that it fits most closely (best short side fit,
as in Jylänki's survey of rectangle packing, 2010); binding from the longest lanes, joined on the
diagonal. Every left-over is a rectangle that straight cuts have freed, and a piece is cut from its
corner by two cuts through, so that what remains is two rectangles again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from sequencer.models import EdgeUse, Print, ScrapCut, ScrapUse
from sequencer.plan.asked import Request
from sequencer.plan.cloth.addresses import Rectangle, needed_of
from sequencer.plan.cloth.finishing import Finishing
from sequencer.plan.cloth.scraps import Scrap, scraps_of

MOST_BINDING = 12
"""Pieces that a binding may be joined of (our judgement)."""
SHORTEST = 3
"""Widths that a piece of binding is long at least (our judgement)."""
SIDES = ("left", "right", "top", "bottom")
Place = tuple[int, ...]
"""Where in the order of cutting: a piece, then the rest beside it, then the rest above both."""
Rest = tuple[Place, Rectangle]


@dataclass(frozen=True)
class Wanted:
    """Pieces for the edge: (name, width, length) of the borders; binding width and length."""

    borders: tuple[tuple[str, Fraction, Fraction], ...]
    binding: tuple[Fraction, Fraction] | None

    @classmethod
    def of(
        cls, borders: Sequence[Mapping[str, Any]], binding: Mapping[str, Any] | None
    ) -> Wanted:
        """What the finishing asks for."""
        pieces = []
        for number, border in enumerate(borders, 1):
            which = "border" if len(borders) == 1 else f"border {number}"
            for side in SIDES:
                part = border["sides" if side in ("left", "right") else "top_bottom"]
                pieces.append((f"{which}, {side}", border["cut_width"], part["length"]))
        edge = None if binding is None else (binding["cut_width"], binding["length"])
        return cls(tuple(pieces), edge)


class Offcuts:
    """What is left of one print's scraps, and what is cut from it."""

    def __init__(self, request: Request, item: Print, uses: Sequence[ScrapUse]) -> None:
        self.request = request
        self.scraps = scraps_of(item, request) or ()
        self.uses = uses or [_whole(scrap) for scrap in self.scraps]
        self.free: list[list[Rest]] = [[((n,), rest) for n, rest in enumerate(use.left)]
                                       for use in self.uses]  # fmt: skip
        self.cuts: list[list[tuple[Place, ScrapCut]]] = [[] for _ in self.uses]
        # along which sides pieces may run, where the print has an up and a down
        self.ways = [("long", "short") if scrap.upright is None else (scrap.upright,)
                     for scrap in self.scraps]  # fmt: skip

    def whole(self, name: str, width: Fraction, length: Fraction) -> bool:
        """Cut one piece from the left-over it fits most closely; whether there is one."""
        fits = []
        for scrap, rests in enumerate(self.free):
            for at, (_, rest) in enumerate(rests):
                for along in self.ways[scrap]:
                    long, across = _turned(rest, along)
                    if long >= length and across >= width:
                        close = sorted((long - length, across - width))
                        fits.append((close, scrap, at, along))
        if not fits:
            return False
        _, scrap, at, along = min(fits)
        self._take(scrap, at, along, width, length, name)
        return True

    def run(self, width: Fraction, total: Fraction) -> bool:
        """Cut a binding of so much length, joins counted, from the longest lanes; whether it can
        be done in :data:`MOST_BINDING` pieces. Nothing is cut where it cannot.
        """
        before = [list(rests) for rests in self.free], [list(cuts) for cuts in self.cuts]
        need = total
        for number in range(1, MOST_BINDING + 1):
            lanes = [
                (_turned(rest, along)[0], -scrap, -at, along)
                for scrap, rests in enumerate(self.free)
                for at, (_, rest) in enumerate(rests)
                for along in self.ways[scrap] if _turned(rest, along)[1] >= width
            ]  # fmt: skip
            longest, scrap, at, along = max(lanes, default=(Fraction(0), 0, 0, ""))
            if longest < SHORTEST * width:
                break
            length = min(longest, max(need, SHORTEST * width))
            self._take(-scrap, -at, along, width, length, f"binding, piece {number}")
            need -= length
            if need <= 0:
                return True
            need += width  # what the next diagonal join costs
        self.free, self.cuts = before
        return False

    def _take(
        self, scrap: int, at: int, along: str, width: Fraction, length: Fraction, name: str
    ) -> None:
        place, (x, y, wide, high) = self.free[scrap].pop(at)
        self.cuts[scrap].append(((*place, 0), ScrapCut((x, y), along, width, length, name)))
        if along == "long":
            rests = [(x + length, y, wide - length, width), (x, y + width, wide, high - width)]
        else:
            rests = [(x, y + length, width, high - length), (x + width, y, wide - width, high)]
        self.free[scrap] += [((*place, n), rest) for n, rest in enumerate(rests, 1)
                             if rest[2] > 0 and rest[3] > 0]  # fmt: skip

    def used(self, key: str) -> tuple[EdgeUse, ...]:
        """The scraps that something was cut from."""
        return tuple(
            EdgeUse(key, _with(self.request, use, scrap,
                               tuple(cut for _, cut in sorted(cuts, key=lambda one: one[0])),
                               tuple(rest for _, rest in left)))
            for use, scrap, cuts, left in zip(self.uses, self.scraps, self.cuts, self.free,
                                              strict=True) if cuts
        )  # fmt: skip


def cut_edges(
    request: Request, item: Print, uses: Sequence[ScrapUse], wanted: Wanted
) -> tuple[tuple[EdgeUse, ...], bool, bool]:
    """Cuts of border and binding from this print's scraps; whether all of the border, and all of
    the binding, is cut from them. What its scraps cannot give whole is not cut at all. ``uses``:
    what is cut from each scrap already.
    """
    offcuts = Offcuts(request, item, uses)
    before = [list(rests) for rests in offcuts.free]
    longest_first = sorted(wanted.borders, key=lambda piece: (-piece[2], -piece[1]))
    border = all(offcuts.whole(*piece) for piece in longest_first)
    if not border:
        offcuts.free, offcuts.cuts = before, [[] for _ in offcuts.uses]
    binding = wanted.binding is not None and offcuts.run(*wanted.binding)
    return offcuts.used(item.id), border and bool(wanted.borders), binding


def with_edges(
    request: Request, finished: Finishing, framing: Print, edging: Print,
    uses: Mapping[str, Sequence[ScrapUse]],
) -> Finishing:  # fmt: skip
    """The finishing with what of its border and binding is cut from the scraps of these prints."""
    wanted = Wanted.of(finished.borders, finished.binding)
    if framing.id == edging.id:
        edges, border, binding = cut_edges(request, framing, uses.get(framing.id, ()), wanted)
    else:
        first, border, _ = cut_edges(request, framing, uses.get(framing.id, ()),
                                     Wanted(wanted.borders, None))  # fmt: skip
        second, _, binding = cut_edges(request, edging, uses.get(edging.id, ()),
                                       Wanted((), wanted.binding))  # fmt: skip
        edges = (*first, *second)
    borders = tuple({**one, "from_scraps": border} for one in finished.borders)
    whole = finished.border and {**finished.border, "from_scraps": border, "borders": list(borders)}
    bound = finished.binding and {**finished.binding, "from_scraps": binding}
    if bound and binding:
        pieces = sum(cut.makes.startswith("binding") for one in edges for cut in one.use.cuts)
        bound |= {"strips": pieces, "joins": pieces - 1}
    return replace(finished, borders=borders, border=whole, binding=bound, edges=edges)


def may_hold(request: Request, item: Print, wanted: Wanted, strips: Fraction) -> bool:
    """Whether the print's scraps might give the borders beside ``strips`` square inches: one scrap
    is as long as the longest piece, and there is cloth enough in all.
    """
    sides = [scrap.full for scrap in scraps_of(item, request) or ()]
    area = sum((long * short for long, short in sides), Fraction(0))
    needed = strips + sum((width * length for _, width, length in wanted.borders), Fraction(0))
    longest = max((length for _, _, length in wanted.borders), default=Fraction(0))
    return area >= needed and any(long >= longest for long, _ in sides)


def _turned(rest: Rectangle, along: str) -> tuple[Fraction, Fraction]:
    """Length along the side, and breadth across it."""
    return (rest[2], rest[3]) if along == "long" else (rest[3], rest[2])


def _whole(scrap: Scrap) -> ScrapUse:
    """A scrap that nothing is cut from yet."""
    long, short = scrap.sure
    left = ((Fraction(0), Fraction(0), long, short),) if long > 0 and short > 0 else ()
    return ScrapUse(scrap.number, scrap.size, scrap.sure, (Fraction(0), Fraction(0)), (), left)


def _with(
    request: Request, use: ScrapUse, scrap: Scrap, cuts: tuple[ScrapCut, ...],
    left: tuple[Rectangle, ...],
) -> ScrapUse:  # fmt: skip
    """The scrap's use with these cuts; ``at_least`` counts the strips' cuts as well."""
    far, least = needed_of((*use.cuts, *cuts), request.straighten)
    sure = far[0] <= scrap.sure[0] and far[1] <= scrap.sure[1]
    return ScrapUse(use.scrap, use.size, use.usable, least, cuts, left, sure)
