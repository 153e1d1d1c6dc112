"""The piece in a few lines: what it is, and the five things to do first, the weightiest first.

Every figure comes from the plan and the contrast; here they are only weighed and put into words.
Lengths are in the piece's own units, prints go by their names.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from sequencer.inches import round_up, show_ruled, show_size
from sequencer.keys import listed
from sequencer.models import ContrastReport, FabricNeed, Json, Neighbours, Plan
from sequencer.piece import Piece

if TYPE_CHECKING:
    from sequencer.plan.answers import WayOut

MOST = 5
TOLD = frozenset({"short", "sizes_unknown"})
"""Codes of a plan's warnings that the summary tells in its own words."""
NAMED = 4
"""Prints named in a sentence before the rest are counted."""
SEAM_MINUTES, CUT_MINUTES, RIP_MINUTES = 3, 1, 3
"""For a seam pinned, sewn and pressed, a cut, and a seam opened (our assumption, no source)."""


@dataclass(frozen=True)
class Summary:
    """``piece``: what it is. ``first``: what to do first, at most five sentences."""

    piece: tuple[str, ...]
    first: tuple[str, ...]

    def to_json(self) -> Json:
        """Plain form."""
        return {"piece": list(self.piece), "first": list(self.first)}


def summary(
    piece: Piece,
    plan: Plan,
    report: ContrastReport | None = None,
    folder: Path | None = None,
    ways: Sequence[WayOut] | None = None,
) -> Summary:
    """The few lines about a plan of this piece, which lies in ``folder``.

    ``ways``: the ways out, where they were looked for.
    """
    told = _Told(piece, plan, typed(folder), ways)
    found = [*told.cloth(), *told.reading(), *(told.meetings(report) if report else ())]
    return Summary(tuple(told.what()), (*found[: MOST - 1], told.trial()))


def typed(folder: Path | None) -> str:
    """The folder as it is typed in a command."""
    return "FOLDER" if folder is None else shlex.quote(str(folder))


def outside(plan: Plan) -> tuple[Fraction, Fraction]:
    """The finished piece with its binding, which shows outside the seam that sews it on."""
    given = (plan.binding or {}).get("outside")
    return (Fraction(given[0]), Fraction(given[1])) if given else plan.bordered


def hours(plan: Plan) -> Fraction:
    """Hours of sewing, cutting and opening seams, at :data:`SEAM_MINUTES` and the like."""
    seams = plan.seams
    minutes = (
        SEAM_MINUTES * seams["count"] + CUT_MINUTES * seams.get("cuts", 0)
        + RIP_MINUTES * seams.get("opened", 0)
    )  # fmt: skip
    return Fraction(minutes, 60)


class _Told:
    """One method for each kind of thing to tell."""

    def __init__(
        self, piece: Piece, plan: Plan, folder: str, ways: Sequence[WayOut] | None
    ) -> None:
        self.piece, self.plan = piece, plan
        self.folder, self.ways = folder, ways
        self.units = str(plan.options.get("units", "in"))
        self.known = {one.id: one for one in piece.prints}
        self.called = piece.labels

    # ── what it is ────────────────────────────────────────────────────────────────────────

    def what(self) -> Iterator[str]:
        plan = self.plan
        bound = ", binding included" if plan.binding else ""
        yield (
            f"A piece of {show_size(outside(plan), self.units)}{bound}, in {len(plan.prints)} "
            f"prints, {len(plan.columns)} columns and {plan.rows} rows."
        )
        cut = self._span([width + 2 * plan.seam for width in plan.finished_strip.values()])
        joins = sum(need.joins for need in plan.fabric)
        yield (
            f"Strips cut {cut} wide; {_many(joins, 'join')} of short pieces; "
            f"{_many(plan.seams['count'], 'seam')}, about {_round_hours(hours(plan))} of work at "
            f"{SEAM_MINUTES} minutes a seam."
        )
        yield "From the top: " + ", ".join(self.name(id_) for id_ in plan.prints) + "."

    def _span(self, widths: Sequence[Fraction]) -> str:
        least, most = min(widths), max(widths)
        if least == most:
            return self.show(least)
        return f"{show_ruled(least, self.units)} to {self.show(most)}"

    # ── what to do first ──────────────────────────────────────────────────────────────────

    def cloth(self) -> Iterator[str]:
        """Cloth that is short, then prints without a size."""
        short = sorted((need for need in self.plan.fabric if need.short_by > 0),
                       key=lambda need: -need.short_by)  # fmt: skip
        if short:
            yield (
                f"Too little cloth: strips still lacking are {self._short(short)}."
                + ("" if self.ways else f" {self._help()}")
            )
            if self.ways:
                yield self._way(self.ways)
        unknown = [need for need in self.plan.fabric if need.have_length is None]
        if unknown:
            least = max(_piece_for(need) for need in unknown)
            size = f"{self.show(max(least))} × {self.show(min(least))}"
            yield (
                f"Measure {self._names([need.print for need in unknown])}: no size is known. "
                f"Each must be a piece of about {size}, or "
                "several that add up to it."
            )

    def _way(self, ways: Sequence[WayOut]) -> str:
        """The first way out, its price and how it is taken."""
        best = ways[0]
        others = f" {len(ways) - 1} more: --ways-out." if len(ways) > 1 else ""
        lacking = "" if best.enough else f" {best.lacking}"
        return f"A way out: {best.command}. {best.text} {best.price}{lacking}{others}"

    def _help(self) -> str:
        """What to do where cloth is short."""
        if self.ways is not None:
            return "No way out that was tried helps: add scraps or another print."
        return (
            "Add scraps, or see what would help and its price: "
            f"passalong plan {self.folder} --ways-out."
        )

    def _short(self, short: Sequence[FabricNeed]) -> str:
        grid = Fraction(self.plan.options.get("grid", Fraction(1, 8)))
        parts = [f"{self.show(round_up(need.short_by, grid))} of {self.name(need.print)}"
                 for need in short]  # fmt: skip
        return _listed(parts, "prints")

    def reading(self) -> Iterator[str]:
        """Photos that were not used, and colours that cannot be trusted."""
        for rejected in self.piece.rejected[:1]:
            more = len(self.piece.rejected) - 1
            rest = f" (and {more} more)" if more else ""
            yield f"{rejected.photo} was not used{rest}: {rejected.why}."
        loose = [id_ for id_ in self.plan.prints if self.known[id_].reference == "none"]
        if loose:
            yield (
                f"Colours of {self._names(loose)} are approximate: photograph them again beside a "
                "white sheet of paper, the same in every photo."
            )

    def meetings(self, report: ContrastReport) -> Iterator[str]:
        """Neighbours that jump or blur, then what is not certain."""
        jumps = [pair for pair in report.pairs if pair.verdict == "jumps"]
        if jumps:
            yield (
                f"Look at the jumps: {self._pairs(jumps)}. A print between would bridge them; "
                "the sheets show which colours to look for."
            )
        blurs = [pair for pair in report.pairs if pair.verdict == "blurs"]
        if blurs:
            yield f"These will read as one wide strip: {self._pairs(blurs)}. Leave one of two out?"
        doubtful = [pair for pair in report.pairs if not pair.certain]
        if doubtful:
            yield f"Lay out and look, since the photos do not settle it: {self._pairs(doubtful)}."

    def trial(self) -> str:
        """The trial of three strips, which comes before every cut."""
        seam = self.plan.seam
        cut = min(self.plan.finished_strip.values()) + 2 * seam
        return (
            f"Before the first cut sew three strips {self.show(cut)} wide: they must measure "
            f"{self.show(3 * cut - 4 * seam)} across. Read the cautions on the sheets."
        )

    # ── words ─────────────────────────────────────────────────────────────────────────────

    def show(self, length: Fraction) -> str:
        return f"{show_ruled(length, self.units)} {self.units}"

    def name(self, id_: str) -> str:
        return self.called.get(id_, id_)

    def _names(self, ids: Sequence[str]) -> str:
        if len(ids) == len(self.plan.prints) > 2:
            return "every print"
        return _listed([self.name(id_) for id_ in ids], "prints")

    def _pairs(self, pairs: Sequence[Neighbours]) -> str:
        return _listed([f"{self.name(p.a)} – {self.name(p.b)}" for p in pairs], "pairs")


def _piece_for(need: FabricNeed) -> tuple[Fraction, Fraction]:
    """(long, short) of one piece that all strips of a print could be cut from, side by side."""
    if need.piece:
        return need.piece
    if not need.strips:
        return Fraction(0), Fraction(0)
    return (
        max(strip.length for strip in need.strips),
        sum((strip.width for strip in need.strips), Fraction(0)),
    )


def _round_hours(long: Fraction) -> str:
    if long < 2:
        return "an hour or two"
    return f"{round(long)} hours"


def _many(count: int, word: str) -> str:
    return f"{count or 'no'} {word}{'' if count == 1 else 's'}"


def _listed(parts: Sequence[str], word: str) -> str:
    more = len(parts) - NAMED
    if more > 1:
        return f"{', '.join(parts[:NAMED])} and {more} more {word}"
    return listed(parts)
