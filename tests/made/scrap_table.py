"""Lays every cut into its scrap, knowing nothing but a plan's JSON.

Independent of the planner. Refuses what a rotary cutter cannot do: a cut outside what
straightening leaves, two cuts on the same cloth, an order of cuts that straight cuts through
cannot follow, one strip cut twice or told two ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any


class Spoilt(AssertionError):  # noqa: N818 - reads as what it is
    """A cut that cloth would refuse."""


@dataclass(frozen=True)
class Rect:
    x0: Fraction
    y0: Fraction
    x1: Fraction
    y1: Fraction

    def overlaps(self, other: Rect) -> bool:
        return (self.x0 < other.x1 and other.x0 < self.x1
                and self.y0 < other.y1 and other.y0 < self.y1)  # fmt: skip

    def inside(self, other: Rect) -> bool:
        return (other.x0 <= self.x0 and self.x1 <= other.x1
                and other.y0 <= self.y0 and self.y1 <= other.y1)  # fmt: skip

    @property
    def area(self) -> Fraction:
        return (self.x1 - self.x0) * (self.y1 - self.y0)


def rect_of(cut: dict[str, Any]) -> Rect:
    x, y = map(Fraction, cut["at"])
    length, width = Fraction(cut["length"]), Fraction(cut["width"])
    if cut["along"] == "long":
        return Rect(x, y, x + length, y + width)
    if cut["along"] == "short":
        return Rect(x, y, x + width, y + length)
    raise Spoilt(f"along {cut['along']!r}")


def can_be_cut(rects: Sequence[Rect], whole: Rect) -> bool:
    """Whether straight cuts through free the rectangles one after the other, in this order.

    Each cut through parts the cloth so that everything on one side comes before everything on
    the other.
    """
    if not rects:
        return True
    if len(rects) == 1 and rects[0].inside(whole):
        return True
    for k in range(1, len(rects)):
        before, after = rects[:k], rects[k:]
        for low, high in (("x0", "x1"), ("y0", "y1")):
            for first, last in ((before, after), (after, before)):
                edge = max(getattr(one, high) for one in first)
                if edge <= min(getattr(one, low) for one in last):
                    return can_be_cut(before, whole) and can_be_cut(after, whole)
    return False


def lay(document: dict[str, Any], straighten: Fraction | None = None) -> int:
    """Lay every cut of a ``passalong.plan/1`` document; how many were laid."""
    steps = {s["makes"]: s for s in document["steps"] if s["op"] == "cut_strip"}
    laid = set()
    for need in document["fabric"]:
        missing = Fraction(0)
        for use in need["scraps"]:
            for made in _lay_scrap(need["print"], use, steps, straighten):
                if made in laid:
                    raise Spoilt(f"{made} is cut twice")
                laid.add(made)
        for step in steps.values():
            if step["print"] == need["print"] and step["scrap"] is None:
                missing += Fraction(step["length"])
                if step["along"] is not None or step["at"] is not None:
                    raise Spoilt(f"{step['makes']}: a place without a scrap")
        if need["have_length"] is not None and missing != Fraction(need["short_by"]):
            raise Spoilt(f"{need['print']}: short by {need['short_by']}, but {missing} lacks")
    placed = {name for name, step in steps.items() if step["scrap"] is not None}
    if placed != laid:
        raise Spoilt(f"steps and scraps differ: {sorted(placed ^ laid)[:4]}")
    return len(laid)


def _lay_scrap(
    print_id: str, use: dict[str, Any], steps: dict[str, Any], straighten: Fraction | None
) -> list[str]:
    size, usable, least = (tuple(map(Fraction, use[key])) for key in
                           ("size", "usable", "at_least"))  # fmt: skip
    if size[0] < size[1] or any(u > s for u, s in zip(usable, size, strict=True)):
        raise Spoilt("usable is larger than the scrap, or the sides are turned")
    if straighten is not None and any(
        u > max(Fraction(0), s - 2 * straighten) for u, s in zip(usable, size, strict=True)
    ):
        raise Spoilt("not straightened")
    whole = Rect(Fraction(0), Fraction(0), *usable)
    rects = []
    for cut in use["cuts"]:
        step = steps.get(cut["makes"])
        same = step is not None and all(
            step[key] == cut[key] for key in ("at", "along", "width", "length")
        )
        if step is None or not same or (step["print"], step["scrap"]) != (print_id, use["scrap"]):
            raise Spoilt(f"{cut['makes']} is told two ways")
        rects.append(rect_of(cut))
    if any(not one.inside(whole) for one in rects):
        raise Spoilt(f"scrap {use['scrap']} of {print_id}: a cut lies outside")
    left = [Rect(x, y, x + w, y + h) for x, y, w, h in (map(Fraction, r) for r in use["left"])]
    everything = [*rects, *left]
    for i, one in enumerate(everything):
        if any(one.overlaps(other) for other in everything[:i]):
            raise Spoilt(f"scrap {use['scrap']} of {print_id}: cuts or left-overs overlap")
    if sum(one.area for one in everything) != whole.area:
        raise Spoilt(f"scrap {use['scrap']} of {print_id}: cloth got lost")
    if not can_be_cut(rects, whole):
        raise Spoilt(f"scrap {use['scrap']} of {print_id}: no straight cuts through")
    if rects:
        straight = straighten or Fraction(0)
        needs = (max(r.x1 for r in rects) + 2 * straight, max(r.y1 for r in rects) + 2 * straight)
        if straighten is not None and needs != least:
            raise Spoilt(f"at_least {least}, but the cuts need {needs}")
    return [cut["makes"] for cut in use["cuts"]]


def lay_edges(document: dict[str, Any]) -> dict[str, int]:
    """Lay border and binding into what the strips leave: pieces by name of what they are for.

    Each piece lies in one left-over (a rectangle that the strips' cuts have freed), is cut from it
    by straight cuts through, and no two share cloth.
    """
    laid: dict[str, int] = {}
    uses = {(need["print"], use["scrap"]): use
            for need in document["fabric"] for use in need["scraps"]}  # fmt: skip
    for edge in document["edges"]:
        use = uses.get((edge["print"], edge["scrap"]))
        usable = tuple(map(Fraction, edge["usable"]))
        if use is None:
            before = [Rect(Fraction(0), Fraction(0), *usable)]
        else:
            before = [_rect(rest) for rest in use["left"]]
            if use["usable"] != edge["usable"] or use["size"] != edge["size"]:
                raise Spoilt("one scrap has two sizes")
        pieces = [rect_of(cut) for cut in edge["cuts"]]
        after = [_rect(rest) for rest in edge["left"]]
        for whole in before:
            mine = [one for one in pieces if one.inside(whole)]
            rests = [one for one in after if one.inside(whole)]
            if not can_be_cut(mine, whole):
                raise Spoilt(f"pieces of {edge['print']} cannot be cut through")
            if sum(one.area for one in [*mine, *rests]) != whole.area:
                raise Spoilt(f"cloth of {edge['print']} got lost")
        everything = [*pieces, *after]
        if any(one.overlaps(other) for i, one in enumerate(everything) for other in everything[:i]):
            raise Spoilt(f"two pieces of {edge['print']} share cloth")
        if sum(any(one.inside(whole) for whole in before) for one in pieces) != len(pieces):
            raise Spoilt(f"a piece of {edge['print']} lies where strips are cut")
        cuts = [rect_of(cut) for cut in [*edge["cuts"], *(use["cuts"] if use else [])]]
        far = max(one.x1 for one in cuts), max(one.y1 for one in cuts)
        if any(Fraction(a) < b for a, b in zip(edge["at_least"], far, strict=True)):
            raise Spoilt("at_least is too small")
        for cut in edge["cuts"]:
            kind = cut["makes"].split(",")[0]
            laid[kind] = laid.get(kind, 0) + 1
    return laid


def _rect(rest: Sequence[str]) -> Rect:
    x, y, wide, high = map(Fraction, rest)
    return Rect(x, y, x + wide, y + high)
