"""Columns that are cut and sewn stay; the rest is planned anew from what is left of the sets.

The strips are cut and the sets sewn, so their steps stay as they are, address for address. What a
wrong cut cost is squared off; the columns still to come are cut from what remains, narrower where
they must be, the last ones left out where even that is not enough, and with ``use_up`` more of
them, going on with the curve.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError, UsageError
from sequencer.models import Column, Plan, PlanWarning, Print, SetTable
from sequencer.plan.answers.asking import ask
from sequencer.plan.asked import PlanWishes, Request
from sequencer.plan.cloth import judge_again, without_sets
from sequencer.plan.planner import around, finish_panel
from sequencer.plan.sewing import Segment, StripSet, Supplied, sewing_steps

MOST_MORE = 200
"""Columns that ``use_up`` may add."""


@dataclass(frozen=True)
class Place:
    """One column of the new plan: cut width, offset, its ``number`` in the old one (None: new)."""

    width: Fraction
    offset: int
    number: int | None = None
    done: bool = False


Shares = dict[str, list[tuple[int, int]]]
"""Places and parts of the segments still to come, by set."""


def go_on(
    plan: Plan,
    prints: Sequence[Print],
    done: Sequence[int],
    left: Fraction | None = None,
    use_up: bool = False,
) -> Plan:
    """The plan with the columns ``done`` (numbers from 1) as they are and the rest anew.

    ``left``: inches that remain of the set cut last, as measured; default as planned.

    Raises:
        UsageError: a column that the plan does not have, or more left than the set held.
        PlanError: what is left does not hold what is done.
    """
    wrong = [number for number in done if not 1 <= number <= len(plan.columns)]
    if wrong or not done:
        raise UsageError(f"Sewn columns: give numbers from 1 to {len(plan.columns)}, or how many.")
    return _GoingOn(plan, prints, sorted(set(done)), left).plan(use_up)


class _GoingOn:
    """What is done of each set, and what remains of it."""

    def __init__(
        self, plan: Plan, prints: Sequence[Print], done: list[int], left: Fraction | None
    ) -> None:
        self.old, self.prints, self.done = plan, list(prints), done
        self.request, _ = self._ask([Place(c.cut_width, c.offset) for c in plan.columns])
        self.parts = 1 if self.request.tall else self.request.repeats
        self.cut: dict[str, list[tuple[int, int]]] = {one.name: [] for one in plan.sets}
        self.planned: dict[int, list[str]] = {}
        for step in plan.steps:
            if step["op"] != "cut_segment":
                continue
            if step["column"] in done:
                self.cut[step["set"]].append((step["column"], step["part"]))
            else:
                self.planned.setdefault(step["column"], []).append(step["set"])
        before = plan.options.get("sewn") or {}
        self.lost = {one.name: Fraction(before.get("lost", {}).get(one.name, 0))
                     for one in plan.sets}  # fmt: skip
        if left is not None:
            self._measure(left)

    def _ask(self, places: Sequence[Place]) -> tuple[Request, dict[str, Any]]:
        seam = self.old.seam
        changes = {
            "size": None, "strip": dict(self.old.finished_strip), "repeats": self.old.repeats,
            "columns": [place.width - 2 * seam for place in places],
            "offsets": [place.offset for place in places],
        }  # fmt: skip
        asked = {**self.old.options["asked"], **changes}
        return ask(self.prints, self.old.prints, asked)[0], asked

    def _measure(self, left: Fraction) -> None:
        """What the set that was cut last has lost against the plan."""
        last = [s["set"] for s in self.old.steps
                if s["op"] == "cut_segment" and s["column"] in self.done][-1]  # fmt: skip
        table = next(one for one in self.old.sets if one.name == last)
        planned = self._room(table) + self.lost[last]
        if left > planned:
            raise UsageError(
                f"{self.request.show(left)} are left of set {last}, but it can have no more than "
                f"{self.request.show(planned)} after these columns. Measure again, or leave --left "
                "out."
            )
        self.lost[last] = planned - left

    def _room(self, table: SetTable) -> Fraction:
        """What remains of a set, its spare counted in."""
        used = sum((self.old.columns[c - 1].cut_width for c, _ in self.cut[table.name]),
                   Fraction(0))  # fmt: skip
        return table.length - table.squaring - used - self.lost[table.name]

    # ── which columns ─────────────────────────────────────────────────────────────────────

    def plan(self, use_up: bool) -> Plan:
        """The plan of what is done and what fits."""
        places = [
            Place(column.cut_width, column.offset, number, number in self.done)
            for number, column in enumerate(self.old.columns, 1)
        ]
        while self._share_out(places) is None:
            narrower = self._narrower(places)
            if narrower is None:
                last = max((i for i, p in enumerate(places) if not p.done), default=None)
                if last is None:
                    break
                narrower = places[:last] + places[last + 1 :]
            places = narrower
        for more in self._more(places) if use_up else ():
            if self._share_out([*places, more]) is None:
                break
            places = [*places, more]
        shares = self._share_out(places)
        if shares is None:
            raise PlanError("What is left does not hold the columns that are done.")
        return self._assemble(places, shares)

    def _narrower(self, places: Sequence[Place]) -> list[Place] | None:
        """The widest of the columns to come one ruler step narrower; None at the smallest."""
        least = self.request.cut(max(self.request.seam, self.request.smallest))
        able = [i for i, place in enumerate(places)
                if not place.done and place.width - self.request.grid >= least]  # fmt: skip
        if not able:
            return None
        at = max(able, key=lambda i: (places[i].width, -i))
        slim = replace(places[at], width=places[at].width - self.request.grid)
        return [*places[:at], slim, *places[at + 1 :]]

    def _more(self, places: Sequence[Place]) -> Iterator[Place]:
        """Columns that go on with the curve: from its start again, or else back the way it came."""
        n, known = len(self.old.prints), list(places)
        if len(known) < 2:
            return
        step = (known[0].offset - known[-1].offset) % n
        steps = {s % n for size in self.request.steps for s in (size, -size)}
        again = known if step in steps else [*known[-2::-1], *known[1:]]
        for k in range(MOST_MORE):
            yield replace(again[k % len(again)], number=None, done=False)

    def _share_out(self, places: Sequence[Place]) -> Shares | None:
        """Segments to come by set: as planned where they fit, else widest first; None if neither
        does.
        """
        return self._packed(places, as_planned=True) or self._packed(places, as_planned=False)

    def _packed(self, places: Sequence[Place], as_planned: bool) -> Shares | None:
        room = {one.name: self._room(one) - self.request.spare for one in self.old.sets}
        shares: Shares = {one.name: [] for one in self.old.sets}
        waiting = [i for i, place in enumerate(places) if not place.done]
        for i in sorted(waiting, key=lambda i: (-places[i].width, i)):
            number = places[i].number
            chosen = self._found(i, places[i].width, room, shares)
            if as_planned and number is not None:
                chosen = self.planned.get(number)
                for name in chosen or ():
                    room[name] -= places[i].width
            elif chosen is not None:
                for name in chosen:
                    room[name] -= places[i].width
            if chosen is None or min(room.values()) < -self._slack(room):
                return None
            for part, name in enumerate(chosen):
                shares[name].append((i, part))
        return shares

    def _slack(self, room: dict[str, Fraction]) -> Fraction:
        """A set that was already below its spare before any segment is no reason to fail."""
        return max((self.request.spare - self._room(one) for one in self.old.sets
                    if self._room(one) < self.request.spare), default=Fraction(0))  # fmt: skip

    def _found(
        self, place: int, width: Fraction, room: dict[str, Fraction], shares: Shares
    ) -> list[str] | None:
        """Sets for the parts of a column: one that holds them all, else sets that start alike."""
        able = [one for one in self.old.sets if self._suits(one, place)]
        whole = [one.name for one in able if room[one.name] >= width * self.parts]
        if whole:
            used = {name for name in whole if shares[name] or self.cut[name]}
            best = min(whole, key=lambda name: (name in used, room[name], name))
            return [best] * self.parts
        for top in dict.fromkeys(one.strips[0].print for one in able):
            names = [one.name for one in able if one.strips[0].print == top
                     for _ in range(max(0, int(room[one.name] // width)))]  # fmt: skip
            if len(names) >= self.parts:
                return names[: self.parts]
        return None

    def _suits(self, table: SetTable, place: int) -> bool:
        """Whether a set is pressed the way that this column must be."""
        return table.press == "open" or table.press == ("down" if place % 2 else "up")

    # ── the plan of them ──────────────────────────────────────────────────────────────────

    def _assemble(self, places: Sequence[Place], shares: Shares) -> Plan:
        old = self.old
        request, asked = self._ask(places)
        columns = tuple(
            Column(place.width, place.width - 2 * old.seam, place.offset) for place in places
        )
        every = [self._set(table, places, shares[table.name]) for table in old.sets]
        sets = tuple(one for one in every if one.segments)
        idle = {one.name for one in every if not one.segments}
        tables = [table for table in old.sets if table.name not in idle]
        fabric = without_sets(old.fabric, [table for table in old.sets if table.name in idle],
                              request.straighten)  # fmt: skip
        known = {item.id: item for item in self.prints}
        wishes = replace(PlanWishes.of(asked), border_print=(old.border or {}).get("print"),
                         binding_print=(old.binding or {}).get("print"))  # fmt: skip
        finished = finish_panel(request, wishes, columns, known,
                                {need.print: need.scraps for need in fabric})
        steps = sewing_steps(request, columns, sets, self._supply(idle), finished.borders,
                             finished.binding)  # fmt: skip
        numbers = [i for i, place in enumerate(places, 1) if place.done]
        fresh = around(request, wishes, columns, sets, steps, finished, known, fabric)
        return replace(
            old, columns=columns, centre=(request.width, request.height), steps=steps,
            sets=judge_again(tables, sets, request), fit_rms_rows=None, fabric=fabric,
            **{key: value for key, value in fresh.items() if key not in ("options", "warnings")},
            warnings=(*_unused(idle), *fresh["warnings"]),
            options={**old.options, "asked": {**old.options["asked"], **_texts(asked)},
                     "precision": fresh["options"]["precision"],
                     "sewn": {"columns": numbers, "lost": dict(self.lost)}},
            search={"status": "tried", "what": "columns that are done stay; the others from what "
                    "is left of the strip sets, widest first", "best_possible": None},
        )  # fmt: skip

    def _set(
        self, table: SetTable, places: Sequence[Place], share: Sequence[tuple[int, int]]
    ) -> StripSet:
        """The set with its segments: those done in their order, then those to come."""
        order = tuple(strip.print for strip in table.strips)
        top, n = self.old.prints.index(order[0]), len(self.old.prints)
        at = {place.number: i for i, place in enumerate(places) if place.done}

        def segment(i: int, part: int) -> Segment:
            return Segment(i, part, places[i].width, (places[i].offset - top) % n)

        first = [segment(at[column], part - 1) for column, part in self.cut[table.name]]
        loop = self.request.method == "loop"
        coming = [segment(i, part) for i, part in share]
        coming.sort(key=lambda s: (loop and s.shift > 0, -s.width, s.column, s.part))
        return StripSet(table.name, top, table.press, order, table.length, (*first, *coming),
                        len(first), self.lost[table.name])  # fmt: skip

    def _supply(self, idle: Collection[str]) -> Any:
        """The strips as they were cut, print by print; those of ``idle`` sets are not needed."""
        strips: dict[str, dict[tuple[str, int], list[Supplied]]] = {}
        for step in self.old.steps:
            if step["op"] == "cut_strip" and step["set"] not in idle:
                at = None if step["at"] is None else tuple(step["at"])
                piece = Supplied(step["length"], step["scrap"], step["along"], at)
                mine = strips.setdefault(step["print"], {})
                mine.setdefault((step["set"], step["strip"]), []).append(piece)
        waiting = {key: iter(mine.values()) for key, mine in strips.items()}
        return lambda print_id: next(waiting[print_id])


def _unused(idle: Collection[str]) -> list[PlanWarning]:
    """What is said of strip sets that no column needs any more."""
    if not idle:
        return []
    which = ", ".join(sorted(idle))
    text = (f"Strip set {which} is no longer needed: no column is cut from it. Leave its strips "
            "uncut or unsewn.")  # fmt: skip
    return [PlanWarning("set_unused", text, text, text)]


def _texts(asked: dict[str, Any]) -> dict[str, Any]:
    return PlanWishes.of(asked).plain()
