"""Which prints have cloth enough to be picked: each is tried in the plan of a piece of so many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sequencer.errors import SequenceError, UsageError
from sequencer.inches import show_length
from sequencer.models import FabricNeed, Print
from sequencer.piece import Piece

_OF_THE_SCRAPS = (
    "largest_piece", "best_at", "border_print", "binding_print", "directional", "use_up",
)


@dataclass(frozen=True)
class Cloth:
    """What was asked of each print, and the ids of those that lack it or whose size is unknown."""

    need: str
    short: tuple[str, ...]
    unknown: tuple[str, ...]

    def note(self) -> str:
        """What was left out, and what was taken on trust."""
        said = f"Only prints with enough cloth were picked: {self.need}."
        if self.short:
            said += f" Left out as too small: {', '.join(self.short)}."
        if self.unknown:
            said += f" Taken as enough, for no size is known: {', '.join(self.unknown)}."
        return said


def enough_cloth(piece: Piece, wanted: Mapping[str, Any]) -> Cloth:
    """Try each print of known size alone among so many of unlimited cloth, in the piece's plan.

    The plan is the one last asked for, else the plain one. Where a range is to be picked, a print
    must do for both ends of it. A print is short where the plan says that its strips do.

    Raises:
        UsageError: there is nothing to pick.
        PlanError: no piece of so many prints can be made as asked.
        SequenceError: a print that must be in, or so many that too few are left, lack cloth.
    """
    pick = wanted.get("pick")
    if not pick:
        raise UsageError("'enough' leaves prints out, so it needs to know how many to pick: add "
                         "--pick, e.g. --pick 7 --enough.")
    sizes = sorted({*pick} if isinstance(pick, (list, tuple)) else {pick})
    out = set(wanted.get("exclude") or ())
    asked = [one for one in piece.prints if one.id not in out]
    known = [one for one in asked if one.scraps or one.cuttable_in]
    tried = {one.id: [_need(one, piece, size) for size in sizes] for one in known}
    short = tuple(key for key, needs in tried.items() if any(need.short_by for need in needs))
    unknown = tuple(one.id for one in asked if one.id not in tried)
    plain = [_need(_sizeless(piece.prints[0]), piece, size) for size in sizes]
    units = str(piece.plan_wishes.get("units") or "in")
    cloth = Cloth(" and ".join(f"{_strips(need, units)} of each print in a piece of {size}"
                               for need, size in zip(plain, sizes, strict=True)), short, unknown)
    _check(cloth, _must_be_in(wanted), len(asked) - len(short), sizes[0])
    return cloth


def _check(cloth: Cloth, must: set[str], left: int, wanted: int) -> None:
    lacking = sorted(must & set(cloth.short))
    if lacking:
        has, it = ("has", "it") if len(lacking) == 1 else ("have", "them")
        raise SequenceError(
            f"{', '.join(lacking)} must be in, but {has} not enough cloth ({cloth.need}). Leave "
            f"{it} out, or order without --enough."
        )
    if left < wanted and cloth.short:
        raise SequenceError(
            f"Only {left} prints have enough cloth, and {wanted} are to be picked ({cloth.need}; "
            f"too small: {', '.join(cloth.short)}). Pick fewer, plan a smaller piece "
            "first (plan FOLDER --size 5x7), or order without --enough."
        )


def _must_be_in(wanted: Mapping[str, Any]) -> set[str]:
    named = [wanted[key] for key in ("first", "last") if wanted.get(key)]
    pairs = [*(wanted.get("together") or ()), *(wanted.get("before") or ())]
    return {*named, *(wanted.get("include") or ()), *(one for pair in pairs for one in pair)}


def _need(one: Print, piece: Piece, size: int) -> FabricNeed:
    """What the plan takes of this print where every other print is as large as need be."""
    from sequencer.plan.planner import plan_columns

    others = [_sizeless(one, f"{one.id}-other-{k}") for k in range(1, max(size, 2))]
    prints = [one, *others]
    plan = plan_columns(prints, [each.id for each in prints], **_wishes(piece.plan_wishes))
    return next(need for need in plan.fabric if need.print == one.id)


def _sizeless(one: Print, name: str | None = None) -> Print:
    return replace(one, id=name or one.id, scraps=(), size_in=None, usable_in=None)


def _wishes(kept: Mapping[str, Any]) -> dict[str, Any]:
    """The plan's wishes without those that go by the scraps or by single prints."""
    wishes = {key: value for key, value in kept.items() if key not in _OF_THE_SCRAPS}
    if kept.get("best_at"):
        wishes["size"] = kept["best_at"]
    if wishes.get("strip") == "auto" or isinstance(wishes.get("strip"), Mapping):
        del wishes["strip"]
    return wishes


def _strips(need: FabricNeed, units: str) -> str:
    widths = " and ".join(show_length(w, units) for w in sorted({s.width for s in need.strips}))
    return f"{show_length(need.needed_length, units)} of strip {widths} wide"
