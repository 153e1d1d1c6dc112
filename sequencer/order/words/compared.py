"""One sentence on how an alternative differs from the best sequence, and at what price."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as List

from sequencer.keys import listed
from sequencer.models import Alternative, Print, Sequence
from sequencer.order.words.advice import called, family

Pair = frozenset[str]


def describe_alternative(best: Sequence, other: Alternative, prints: List[Print]) -> str:
    """What strikes the eye first about ``other`` beside ``best``, then its price."""
    by_id = {one.id: one for one in prints}
    clauses = (
        _other_prints(best, other, by_id),
        _other_start(best, other, by_id),
        _kept_together(best, other, by_id),
        _moved(best, other, by_id),
        _turned(best, other, by_id),
        _new_neighbours(best, other, by_id),
    )
    told = [clause for clause in clauses if clause][:2]
    sentence = ", and ".join(told) if told else "The same prints in the same order"
    return f"{sentence[0].upper()}{sentence[1:]}; {_price(best, other)}."


def _price(best: Sequence, other: Alternative) -> str:
    more = (other.total - best.total) / best.total if best.total > 0 else 0.0
    if best.aim == "worst" and other.worst > best.worst + 0.05:
        return f"its largest step is {other.worst:.1f} instead of {best.worst:.1f}"
    dear = "costs the same" if more < 0.0005 else f"costs {more:.1%} more"
    if other.worst < best.worst - 0.05:
        steps = f"{other.worst:.0f} instead of {best.worst:.0f}"
        return f"{dear}, but its largest step is gentler, {steps}"
    return dear


def _other_prints(best: Sequence, other: Alternative, by_id: Mapping[str, Print]) -> str:
    come = [by_id[name] for name in other.order if name not in best.order]
    gone = [by_id[name] for name in best.order if name not in other.order]
    if not come and not gone:
        return ""
    if not come:
        return f"does without {listed(called(one) for one in gone[:3])}"
    takes = f"takes in {listed(called(one) for one in come[:3])}"
    return takes + (f" in place of {listed(called(one) for one in gone[:3])}" if gone else "")


def _other_start(best: Sequence, other: Alternative, by_id: Mapping[str, Print]) -> str:
    """Only a path has a start; either end may count as one."""
    if best.loop:
        return ""
    was = {best.order[0], best.order[-1]}
    fresh = [name for name in (other.order[0], other.order[-1]) if name not in was]
    if not fresh:
        return ""
    one = by_id[fresh[0]]
    verb = "starts" if fresh[0] == other.order[0] else "ends"
    return f"{verb} in the {family(one)}s with {called(one)}"


def _kept_together(best: Sequence, other: Alternative, by_id: Mapping[str, Print]) -> str:
    fresh = _pairs(other.order, best.loop) - _pairs(best.order, best.loop)
    for pair in sorted(fresh, key=sorted):
        one, two = (by_id[name] for name in sorted(pair, key=other.order.index))
        if family(one) == family(two):
            return f"keeps the two {family(one)}s, {called(one)} and {called(two)}, together"
    return ""


def _moved(best: Sequence, other: Alternative, by_id: Mapping[str, Print]) -> str:
    """The one print that moved, if that is all that happened."""
    if set(best.order) != set(other.order) or len(best.order) < 4:
        return ""
    if len(_pairs(other.order, best.loop) - _pairs(best.order, best.loop)) > 3:
        return ""
    for name in best.order:
        rest = [tuple(x for x in order if x != name) for order in (best.order, other.order)]
        if _pairs(rest[0], best.loop) == _pairs(rest[1], best.loop):
            sides = [by_id[x] for x in _sides(other.order, name, best.loop)]
            where = f"between {listed(called(one) for one in sides)}" if len(sides) == 2 else (
                f"at the end, beside {called(sides[0])}")  # fmt: skip
            return f"sews {called(by_id[name])} {where}"
    return ""


def _turned(best: Sequence, other: Alternative, by_id: Mapping[str, Print]) -> str:
    """A stretch turned round: two pairs go, two come, and nothing moved alone."""
    was, now = _pairs(best.order, best.loop), _pairs(other.order, best.loop)
    if set(best.order) != set(other.order) or len(now - was) != 2:
        return ""
    if _moved(best, other, by_id) or _other_start(best, other, by_id):
        return ""
    places = [k for k, name in enumerate(best.order) if any(name in pair for pair in was - now)]
    if len(places) != 4:
        return ""
    ends = [by_id[best.order[k]] for k in places[1:3]]
    return f"turns the stretch from {called(ends[0])} to {called(ends[1])} round"


def _new_neighbours(best: Sequence, other: Alternative, by_id: Mapping[str, Print]) -> str:
    """When nothing simpler tells it: which prints meet that did not."""
    if any(
        tell(best, other, by_id)
        for tell in (_other_prints, _other_start, _kept_together, _moved, _turned)
    ):
        return ""
    fresh = sorted(_pairs(other.order, best.loop) - _pairs(best.order, best.loop), key=sorted)
    if not fresh:
        return ""
    meets = [
        " beside ".join(called(by_id[name]) for name in sorted(pair, key=other.order.index))
        for pair in fresh[:2]
    ]
    return f"sews {listed(meets)}"


def _sides(order: tuple[str, ...], name: str, loop: bool) -> list[str]:
    at = order.index(name)
    if loop:
        return [order[at - 1], order[(at + 1) % len(order)]]
    return [order[k] for k in (at - 1, at + 1) if 0 <= k < len(order)]


def _pairs(order: tuple[str, ...], loop: bool) -> set[Pair]:
    after = order[1:] + (order[:1] if loop else ())
    return {frozenset(pair) for pair in zip(order, after, strict=False) if pair[0] != pair[1]}
