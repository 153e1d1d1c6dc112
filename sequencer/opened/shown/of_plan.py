"""What is said of a plan: cloth, line and columns, and the piece as a whole.

A plan is made after each remedy before it is offered, and no longer warns.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any

from sequencer.errors import PassalongError
from sequencer.inches import round_down, round_near, show_length, show_ruled
from sequencer.keys import told
from sequencer.models import FabricNeed, Json, Plan
from sequencer.opened.shown.pin import Said, loop_remedy, plan_remedy
from sequencer.opened.trying import Move, sketched, tried
from sequencer.piece import Piece
from sequencer.plan.columns import page_line

_SHORT = 3
_TRIED = 1500
"""Patches up to which a whole plan is tried for a remedy; beyond, only the ways out that she asks
for are."""
_FRAMES = 5
"""Prints that are tried for border and binding."""
_FREE_COLUMNS: dict[str, Any] = {"columns": None, "offsets": None}
_GENTLER = (Fraction(4, 5), Fraction(3, 5), Fraction(2, 5))
_NARROWER = (Fraction(9, 10), Fraction(3, 4), Fraction(3, 5), Fraction(2, 5))


class OfPlan:
    """What is said of the plan, one method for each kind."""

    def __init__(self, piece: Piece, plan: Plan) -> None:
        self.piece, self.plan = piece, plan
        self.units = str(plan.options.get("units") or "in")
        self.called = piece.labels
        self.warned = {one.code: told(one.said(self.units), self.called) for one in plan.warnings}

    def _name(self, id_: str) -> str:
        return self.called.get(id_, id_)

    def _after(self, move: Move, quick: bool = False) -> Plan | None:
        if not quick and len(self.plan.columns) * self.plan.rows > _TRIED:
            return None
        try:
            return (sketched if quick else tried)(self.plan, self.piece.prints, move)
        except PassalongError:
            return None

    # ── cloth ─────────────────────────────────────────────────────────────────────────────

    def cloth(self) -> Iterator[Said]:
        """Prints that are short, then those without a size."""
        short = sorted((need for need in self.plan.fabric if need.short_by > 0),
                       key=lambda need: -need.short_by)  # fmt: skip
        for number, need in enumerate(short[:_SHORT]):
            lacks = show_length(need.short_by, self.units)
            text = f"{self._name(need.print)} is too short: {lacks} of strip are lacking."
            yield Said(text, {"print": need.print}, None if number else self._fitting(short))
        unknown = [need for need in self.plan.fabric if need.have_length is None]
        if unknown and len(unknown) < len(self.plan.fabric):
            yield Said(self._unknown(unknown), {"print": unknown[0].print, "size": None})

    def _unknown(self, unknown: Sequence[FabricNeed]) -> str:
        names = ", ".join(self._name(need.print) for need in unknown[:3])
        more = f" and {len(unknown) - 3} more" if len(unknown) > 3 else ""
        piece = max((need.piece for need in unknown if need.piece), default=None)
        least = "" if piece is None else " {} takes about {} × {} {}.".format(
            "It" if len(unknown) == 1 else "Each",
            *(show_ruled(side, self.units) for side in piece), self.units)
        its = "its" if len(unknown) == 1 else "each one's"
        return f"No size is known of {names}{more}: tap {its} shape below and type it.{least}"

    def _fitting(self, short: Sequence[FabricNeed]) -> Json | None:
        """The first of some narrower pieces, then of fewer repeats, in which nothing is short."""
        for label, wishes in self._smaller():
            after = self._after(Move(wishes))
            if after is not None and not any(need.short_by for need in after.fabric):
                return plan_remedy(label, wishes)
        return None

    def _smaller(self) -> Iterator[tuple[str, Json]]:
        width, height = self.plan.centre
        step = Fraction(self.plan.options["grid"]) * 2
        for share in _NARROWER:
            narrow = round_down(width * share, step)
            if narrow >= 4 * self.plan.seam:
                label = f"Make it {show_length(narrow, self.units)} wide"
                yield label, {"size": f"{narrow} in x {height} in"}
        for repeats in range(self.plan.repeats - 1, 0, -1)[:2]:
            label = "Sew 1 repeat" if repeats == 1 else f"Sew {repeats} repeats"
            yield label, {"repeats": repeats}

    # ── line and columns ──────────────────────────────────────────────────────────────────

    def line(self) -> Iterator[Said]:
        """Where the line is too steep for its columns, or they for it."""
        if "curve_too_steep" in self.warned:
            text = "The line is too steep here: the columns lag behind it."
            yield Said(text, {"column": self._steepest()}, self._gentler())
        if "curve_not_followed" in self.warned:
            after = self._after(Move({**_FREE_COLUMNS, "smallest": None}), True)
            better = after is not None and (after.fit_rms_rows or 0) < (self.plan.fit_rms_rows or 0)
            remedy = plan_remedy("Let the columns follow the line",
                                  {**_FREE_COLUMNS, "smallest": None})
            yield Said("The columns stray from the line.", {"column": len(self.plan.columns) // 2},
                       remedy if better else None)

    def _steepest(self) -> int:
        """The column in which the line climbs most, from 0."""
        rows = page_line(self.plan)["rows"]
        steps = [abs(b - a) for a, b in pairwise(rows)]
        at = Fraction(2 * steps.index(max(steps)) + 1, 2 * len(steps)) * self.plan.centre[0]
        edge = Fraction(0)
        for place, column in enumerate(self.plan.columns):
            edge += column.finished_width
            if at <= edge:
                return place
        return len(self.plan.columns) - 1

    def _gentler(self) -> Json | None:
        """The same line, flatter about its middle, until the columns keep up."""
        line = page_line(self.plan)
        rows, base = line["rows"], int(line["base"])
        middle = (max(rows) + min(rows)) / 2
        for share in _GENTLER:
            flat = [round(middle + float(share) * (row - middle), 4) for row in rows]
            after = self._after(Move({}, flat, base), True)
            if after and not any(one.code == "curve_too_steep" for one in after.warnings):
                return plan_remedy("Flatten it", {}, rows=flat, base=base)
        return None

    def columns(self) -> Iterator[Said]:
        """Columns that are slivers, and seams that are too thick."""
        if "slivers" in self.warned:
            narrow = min(range(len(self.plan.columns)),
                         key=lambda place: self.plan.columns[place].finished_width)
            yield Said("A sliver at a crest: this column turns the line and is not half as wide "
                       "as its neighbours.", {"column": narrow}, self._without("slivers"))
        if "bulk" in self.warned:
            seams = self.plan.layers["column_seams"]
            thick = max(seams, key=lambda seam: seam["most"])
            yield Said(f"Thick here: up to {thick['most']} layers meet in this seam.",
                       {"column": thick["columns"][0]}, self._without("bulk"))

    def _without(self, code: str) -> Json | None:
        """A change after which this is not warned of any more."""
        grid = Fraction(self.plan.options["grid"])
        smallest = Fraction(self.plan.options["smallest"]) + 2 * grid
        moves: list[tuple[str, Json]] = []
        if self.plan.press != "open":
            moves.append(("Press the seams open", {"press": "open"}))
        if not (self.plan.options["asked"].get("columns")):
            moves.append((f"No column under {show_length(smallest, self.units)}",
                          {"smallest": f"{smallest} in"}))  # fmt: skip
        if code == "bulk":
            wide = max(self.plan.finished_strip.values()) + 2 * grid
            moves.append((f"Make the strips {show_length(wide, self.units)}",
                          {"strip": f"{wide} in"}))  # fmt: skip
        return self._first_that_helps(code, moves)

    def _first_that_helps(self, code: str, moves: Iterable[tuple[str, Json]]) -> Json | None:
        """The first of these after which this is not warned of any more."""
        for label, wishes in moves:
            after = self._after(Move(wishes))
            if after and not any(one.code == code for one in after.warnings):
                return plan_remedy(label, wishes)
        return None

    def rest(self) -> Iterator[Said]:
        """What is about the whole piece."""
        if "open_sequence" in self.warned:
            first, last = self._name(self.plan.prints[0]), self._name(self.plan.prints[-1])
            remedy = loop_remedy("Let the last print meet the first")
            yield Said(f"Columns are shifted round, so {last} meets {first}; this order was found "
                       "without that meeting.", {}, remedy)  # fmt: skip
        for code, moves in (
            ("one_column", [("Let the columns follow the line", _FREE_COLUMNS)]),
            ("frame_cloth", self._other_frames()),
            ("off_ruler", self._on_the_ruler()),
            ("nesting", [("Press the seams open", {"press": "open"})]),
            ("seams_to_open", [("Sew tall sets", {"sets": "tall"})]),
            ("checks", []),  # nothing but a fourth print helps, as it says
        ):
            if code in self.warned:
                yield Said(self.warned[code], {}, self._first_that_helps(code, moves))

    def _other_frames(self) -> Iterator[tuple[str, Json]]:
        """Border and binding of each print in turn, the one with most cloth first."""
        keys = [key for key, edge in (("border_print", self.plan.border),
                                      ("binding_print", self.plan.binding)) if edge]  # fmt: skip
        held = sorted(self.plan.fabric, key=lambda need: -(need.have_length or 0))
        for need in held[:_FRAMES]:
            yield f"Frame it with {self._name(need.print)}", dict.fromkeys(keys, need.print)

    def _on_the_ruler(self) -> Iterator[tuple[str, Json]]:
        """Every strip as wide as the ruler shows, the nearest first."""
        grid = Fraction(self.plan.options["grid"])
        around = 2 * self.plan.seam
        cut = {key: round_near(width + around, grid) - around
               for key, width in self.plan.finished_strip.items()}  # fmt: skip
        for more in (Fraction(0), grid, 2 * grid):
            strips = {key: width + more for key, width in cut.items()}
            widths = sorted(set(strips.values()))
            shown = " and ".join(show_length(width, self.units) for width in widths[:2])
            label = f"Make the strips {shown}" if len(widths) < 3 else "Put the strips on the ruler"
            yield label, {"strip": {key: f"{width} in" for key, width in strips.items()}}
