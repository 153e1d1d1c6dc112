"""Other sequences that differ enough to be worth a look, and how they differ, in a sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence as Listed
from typing import Any

from sequencer.order.search.question import Pairs, Question, meetings

NEW_SHARE = 0.2


def different_enough(
    question: Question, earlier: Listed[Listed[int]]
) -> tuple[tuple[Pairs, int], ...] | None:
    """At most so many pairs in common with each earlier answer; None if none could differ."""
    limits = []
    for order in earlier:
        pairs = pairs_of(order, question.loop)
        most = len(pairs) - max(1, math.ceil(NEW_SHARE * len(pairs)))
        if len(pairs) < 2:
            return None
        limits.append((frozenset((min(p), max(p)) for p in pairs), most))
    return tuple(limits)


def pairs_of(order: Listed[Any], loop: bool) -> frozenset[frozenset[Any]]:
    """The unordered pairs that meet."""
    return frozenset(frozenset(pair) for pair in _meetings(order, loop))


def _meetings(order: Listed[Any], loop: bool) -> list[tuple[Any, Any]]:
    return meetings(order, loop)


def how_it_differs(best: Listed[Any], other: Listed[Any], loop: bool) -> str:
    """One plain sentence on what sets the other sequence apart from the best."""
    used, left = _names(other, best), _names(best, other)
    if used:
        return f"Uses {_and(used)} in place of {_and(left)}." if left else f"Adds {_and(used)}."
    wanted = pairs_of(other, loop)
    if len(wanted - pairs_of(best, loop)) > 3:  # no single move changes more
        return _parted(best, other, loop)
    return (
        _one_moved(best, other, wanted, loop)
        or _one_turned(best, wanted, loop)
        or _parted(best, other, loop)
    )


def _names(there: Listed[Any], here: Listed[Any]) -> list[Any]:
    known = set(here)
    return [name for name in there if name not in known]


def _and(names: Listed[Any]) -> str:
    words = [str(name) for name in names]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _one_moved(
    best: Listed[Any], other: Listed[Any], wanted: frozenset[frozenset[Any]], loop: bool
) -> str:
    for i, name in enumerate(best):
        rest = [*best[:i], *best[i + 1 :]]
        for j in range(len(rest) + 1):
            if pairs_of([*rest[:j], name, *rest[j:]], loop) == wanted:
                return f"Moves {name} {_where(name, other, loop)}."
    return ""


def _where(name: Any, other: Listed[Any], loop: bool) -> str:
    near = [a if b == name else b for a, b in _meetings(other, loop) if name in (a, b)]
    near = sorted(near, key=list(other).index)
    return f"between {near[0]} and {near[1]}" if len(near) > 1 else f"to the end, beside {near[0]}"


def _one_turned(best: Listed[Any], wanted: frozenset[frozenset[Any]], loop: bool) -> str:
    n = len(best)
    for i in range(n):
        for j in range(i + 1, n):
            turned = [*best[:i], *best[i : j + 1][::-1], *best[j + 1 :]]
            if pairs_of(turned, loop) == wanted:
                if j - i + 1 > n // 2 and loop:
                    rest = [*best[j + 1 :], *best[:i]]
                    return f"Turns round the stretch from {rest[0]} to {rest[-1]}."
                return f"Turns round the stretch from {best[i]} to {best[j]}."
    return ""


def _parted(best: Listed[Any], other: Listed[Any], loop: bool) -> str:
    old, new = pairs_of(best, loop), pairs_of(other, loop)
    joined = [pair for pair in _meetings(other, loop) if frozenset(pair) not in old]
    text = f"Keeps {len(old & new)} of {len(old)} neighbours"
    if not loop and {best[0], best[-1]} != {other[0], other[-1]}:
        text += f", runs from {other[0]} to {other[-1]}"
    a, b = joined[0]
    return f"{text} and brings {a} and {b} together."
