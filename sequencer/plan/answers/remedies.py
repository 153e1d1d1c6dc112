"""What can be changed where a print is short: single steps, the gentlest of each kind first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer.inches import round_down, show_length
from sequencer.models import Plan, Print
from sequencer.plan.asked import MM


@dataclass(frozen=True)
class Step:
    """One change to try: what it is, in words, and its arguments."""

    kind: str
    text: str
    changes: Mapping[str, Any]
    seq: tuple[str, ...]


class Remedies:
    """Changes of one plan, each a list of steps from gentle to harsh."""

    def __init__(self, plan: Plan, known: Mapping[str, Print], short: Sequence[str]) -> None:
        self.plan, self.known, self.short = plan, known, tuple(short)
        self.grid = Fraction(plan.options["grid"])
        self.units = str(plan.options["units"])
        self.settled: dict[str, Any] = {
            "size": plan.centre, "strip": dict(plan.finished_strip), "repeats": plan.repeats,
        }  # fmt: skip

    def all(self) -> Iterator[list[Step]]:
        """Every kind of change that needs no other print."""
        for graded in (
            self._narrower_piece(), self._fewer_columns(), self._fewer_repeats(),
            self._narrower_strips(), self._narrower_short_strips(), self._joins(), self._sets(),
        ):  # fmt: skip
            yield list(graded)

    def swap(self, swaps: Mapping[str, str]) -> Step:
        """These prints of the plan for those of the box."""
        named = ", ".join(f"{self.known[a].name} for {self.known[b].name}"
                          for a, b in swaps.items())  # fmt: skip
        strips = {swaps.get(k, k): width for k, width in self.plan.finished_strip.items()}
        asked = self.plan.options["asked"].get("directional", ())
        kept = [key for key in asked if key not in swaps]
        changes = {**self.settled, "strip": strips, "directional": kept}
        seq = tuple(swaps.get(key, key) for key in self.plan.prints)
        return Step("swap", f"Swap {named}.", changes, seq)

    def _narrower_piece(self) -> Iterator[Step]:
        """The same columns' curve on a narrower piece: fewer columns of the same kind."""
        width, height = self.plan.centre
        step = 5 * MM if self.units == "cm" else Fraction(1, 4)
        for share in (19, 18, 17, 16, 15, 14, 13, 12, 11, 10, 8, 6):
            narrow = round_down(width * share / 20, step)
            if self._free_columns and narrow >= 4 * self.plan.seam:
                text = f"Make the piece {self._length(narrow)} wide: fewer columns."
                yield self._step("narrower piece", text, size=(narrow, height))

    def _fewer_columns(self) -> Iterator[Step]:
        """Wider columns at the same size: each costs two allowances less often."""
        smallest = Fraction(self.plan.options["smallest"])
        for steps in (1, 2, 3, 4, 6, 8):
            wider = smallest + steps * self.grid
            if self._free_columns and wider * 2 <= self.plan.centre[0]:
                text = f"Make no column narrower than {self._length(wider)}: fewer, wider columns."
                yield self._step("fewer columns", text, smallest=wider)

    def _fewer_repeats(self) -> Iterator[Step]:
        width, height = self.plan.centre
        for repeats in range(self.plan.repeats - 1, 0, -1):
            low = height * repeats / self.plan.repeats
            text = f"Sew {repeats} instead of {self.plan.repeats} repeats: the piece is " \
                f"{self._length(low)} high."  # fmt: skip
            yield self._step("fewer repeats", text, size=(width, low), repeats=repeats)

    def _narrower_strips(self) -> Iterator[Step]:
        yield from self._strips_of(self.plan.prints, "all strips", "narrower strips")

    def _narrower_short_strips(self) -> Iterator[Step]:
        names = ", ".join(self.known[key].name for key in self.short)
        yield from self._strips_of(tuple(self.short), f"the strips of {names}",
                                   "narrower strips of the short prints")  # fmt: skip

    def _strips_of(self, which: Sequence[str], what: str, kind: str) -> Iterator[Step]:
        for steps in range(1, 13):
            strips = dict(self.plan.finished_strip)
            for key in which:
                strips[key] = max(self.plan.seam, strips[key] - steps * self.grid)
            if strips == dict(self.plan.finished_strip) or (
                steps > 1 and all(strips[k] == self.plan.seam for k in which)
                and all(self.plan.finished_strip[k] - (steps - 1) * self.grid
                        <= self.plan.seam for k in which)
            ):  # fmt: skip
                return
            height = sum(strips.values(), Fraction(0)) * self.plan.repeats
            text = f"Make {what} {self._length(steps * self.grid)} narrower: the piece is " \
                f"{self._length(height)} high."  # fmt: skip
            yield self._step(kind, text, strip=strips, size=(self.plan.centre[0], height))

    def _joins(self) -> Iterator[Step]:
        text = "Cut with more effort, joining pieces where that helps."
        yield self._step("more joins", text, joins="any")
        if self.plan.options["join"] == "diagonal":
            text = "Join strips with straight seams, which cost less length but show more."
            yield self._step("more joins", text, join="straight")

    def _sets(self) -> Iterator[Step]:
        if self.plan.repeats == 1:
            return
        if self.plan.options["sets"] == "tall":
            text = "Sew strip sets of one repeat and stack their segments: longer, fewer strips."
            yield self._step("one-repeat strip sets", text, sets="repeat")
        else:
            text = "Sew tall strip sets that hold all repeats: shorter, more strips."
            yield self._step("taller strip set", text, sets="tall")

    def _step(self, kind: str, text: str, **changes: Any) -> Step:
        return Step(kind, text, {**self.settled, **changes}, self.plan.prints)

    @property
    def _free_columns(self) -> bool:
        asked = self.plan.options["asked"]
        return not asked.get("columns") and not asked.get("offsets")

    def _length(self, length: Fraction) -> str:
        return show_length(length, self.units)
