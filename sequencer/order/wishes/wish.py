"""What was asked for, as single wishes that can be checked, put in words and taken apart."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from numbers import Real
from typing import Any

from sequencer import doors
from sequencer.errors import SequenceError, UsageError
from sequencer.order.graph.costs import AIMS

Id = Any
PairOfIds = tuple[Id, Id]


@dataclass(frozen=True)
class Wish:
    """One wish: its ``kind`` and the prints it names, or the ``number`` it sets."""

    kind: str
    prints: tuple[Id, ...] = ()
    number: float | None = None

    def __str__(self) -> str:
        """In words, as in 'together: a,b' or 'pick: 5'."""
        if self.number is not None:
            return f"{self.kind}: {self.number:g}"
        return f"{self.kind}: {','.join(str(name) for name in self.prints)}"


@dataclass(frozen=True)
class Wishes:
    """All wishes for one sequence. Prints named in first, last, with, together or before are in.

    ``apart`` only matters when both prints are in. ``loop``: first is where the list starts and
    last where it ends, so the two are neighbours; 'before' is counted along that list.
    """

    wishes: tuple[Wish, ...]
    loop: bool = False

    def named(self, kind: str) -> tuple[tuple[Id, ...], ...]:
        """The prints of every wish of this kind."""
        return tuple(wish.prints for wish in self.wishes if wish.kind == kind)

    def number(self, kind: str) -> float | None:
        """The number set by the wish of this kind, if there is one."""
        return next((wish.number for wish in self.wishes if wish.kind == kind), None)

    def end(self, kind: str) -> Id | None:
        """The print wished first or last."""
        return next((prints[0] for prints in self.named(kind)), None)

    @property
    def needed(self) -> set[Id]:
        """Prints that must be in the sequence."""
        kinds = ("first", "last", "with", "together", "before")
        return {name for kind in kinds for prints in self.named(kind) for name in prints}

    @property
    def unwanted(self) -> set[Id]:
        """Prints that must not be in the sequence."""
        return {name for prints in self.named("without") for name in prints}

    def only(self, wishes: Iterable[Wish]) -> Wishes:
        """The same request with just these wishes."""
        return Wishes(tuple(wishes), self.loop)


def read_wishes(
    ids: Sequence[Hashable],
    *,
    loop: bool,
    pick: int | None = None,
    first: Id | None = None,
    last: Id | None = None,
    include: Iterable[Id] = (),
    exclude: Iterable[Id] = (),
    together: Iterable[PairOfIds] = (),
    apart: Iterable[PairOfIds] = (),
    before: Iterable[PairOfIds] = (),
    distinct: float | None = None,
    value_range: float | None = None,
) -> Wishes:
    """Check a request against the prints there are. Raises SequenceError naming unknown prints."""
    wishes: list[Wish] = []
    wishes += [Wish(kind, (_one(end),)) for kind, end in (("first", first), ("last", last))
               if end is not None]
    wishes += [Wish("with", (name,)) for name in _listed("with", include)]
    wishes += [Wish("without", (name,)) for name in _listed("without", exclude)]
    for kind, pairs in (("together", together), ("apart", apart), ("before", before)):
        wishes += [Wish(kind, _pair(kind, pair)) for pair in _pairs(kind, pairs)]
    numbers = (("distinct", distinct), ("value range", value_range))
    wishes += [Wish("pick", number=pick)] if pick is not None else []
    wishes += [Wish(kind, number=check_number(kind, number)) for kind, number in numbers
               if number is not None]
    kept = tuple(dict.fromkeys(wishes))
    _known(kept, ids)
    return Wishes(kept, doors.flag("loop", loop))


def check_number(kind: str, number: Any, above: bool = False) -> float:
    """A finite number of 0 or more (``above``: above 0). Raises UsageError naming ``kind``."""
    least = "above 0" if above else "of 0 or more"
    usable = isinstance(number, Real) and not isinstance(number, bool) and math.isfinite(number)
    if not usable or number < 0 or (above and number == 0):
        raise UsageError(f"'{kind}' needs a number {least}, not {number!r}.")
    return float(number)


def _one(name: Any) -> Id:
    try:
        hash(name)
    except TypeError:
        raise UsageError(f"{name!r} cannot name a print.") from None
    return name


def _listed(kind: str, names: Any) -> list[Id]:
    if isinstance(names, str):
        return [names]
    if not isinstance(names, Iterable):
        raise UsageError(f"'{kind}' needs a list of prints, not {names!r}.")
    return [_one(name) for name in names]


def _pairs(kind: str, pairs: Any) -> list[Any]:
    if isinstance(pairs, str) or not isinstance(pairs, Iterable):
        raise UsageError(f"'{kind}' needs pairs of two prints, not {pairs!r}.")
    return list(pairs)


def _pair(kind: str, pair: Any) -> PairOfIds:
    two = [] if isinstance(pair, str) or not isinstance(pair, Iterable) else list(pair)
    if len(two) != 2:
        raise UsageError(f"'{kind}' needs pairs of two prints, not {pair!r}.")
    a, b = _one(two[0]), _one(two[1])
    if a == b:
        raise UsageError(f"'{kind}' needs two different prints, not {a} twice.")
    return a, b


def _known(wishes: Sequence[Wish], ids: Sequence[Hashable]) -> None:
    known = set(ids)
    unknown = [str(name) for wish in wishes for name in wish.prints if name not in known]
    if unknown:
        some = ", ".join(str(name) for name in list(ids)[:12]) + (" …" if len(ids) > 12 else "")
        names = ", ".join(dict.fromkeys(unknown))
        raise SequenceError(f"There is no print called {names}. The prints are: {some}.")


def check_aim(aim: str) -> None:
    """Raise UsageError unless the aim is one there is."""
    if not isinstance(aim, str) or aim not in AIMS:
        raise UsageError(f"There is no aim '{aim}'; choose one of {', '.join(AIMS)}.")
