"""The strip sets as tables: strips, pieces from the squared end, and where their joins fall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from sequencer.models import SetStrip, SetTable
from sequencer.plan.asked import Request
from sequencer.plan.cloth.laying.joins import WHERE, Join, Segments
from sequencer.plan.cloth.ledger import Ledger, Strip
from sequencer.plan.sewing import StripSet, Supplied, strip_names


def set_tables(
    sets: Sequence[StripSet], ledger: Ledger, squaring: Fraction
) -> tuple[SetTable, ...]:
    """A table for each set, its strips from top to bottom."""
    strips: dict[tuple[str, int], SetStrip] = {}
    for key, page in ledger.pages.items():
        for strip, pieces in zip(page.strips, page.supplied, strict=True):
            strips[strip.set, strip.number] = _strip(key, strip, pieces)
    return tuple(
        SetTable(
            one.name, one.press, one.length, squaring, one.spare(squaring),
            tuple(segment.column + 1 for segment in one.segments),
            tuple(strips[one.name, number] for number in range(1, len(one.order) + 1)),
        )
        for one in sets
    )  # fmt: skip


def _strip(key: str, strip: Strip, pieces: Sequence[Supplied]) -> SetStrip:
    names = strip_names(strip.set, strip.number, len(pieces))
    made = zip(names, pieces, strict=True)
    return SetStrip(
        strip.number, key,
        tuple((name, piece.scrap, piece.length) for name, piece in made),
        tuple(_join(join) for join in strip.joins),
    )  # fmt: skip


def _join(join: Join) -> dict[str, Any]:
    return {"from": join.start, "to": join.end, "columns": [c + 1 for c in join.columns],
            "where": WHERE[join.kind]}  # fmt: skip


def judge_again(
    tables: Sequence[SetTable], sets: Sequence[StripSet], request: Request
) -> tuple[SetTable, ...]:
    """The tables of sets that are sewn, after other columns are to be cut from them."""
    fresh = []
    for table, one in zip(tables, sets, strict=True):
        segments = Segments(one, request.squaring, request.seam)
        strips = tuple(
            replace(strip, joins=tuple(
                _join(segments.judge(join["from"], join["to"])) for join in strip.joins))
            for strip in table.strips
        )  # fmt: skip
        columns = tuple(segment.column + 1 for segment in one.segments)
        fresh.append(replace(table, columns=columns, strips=strips,
                             spare=one.spare(request.squaring)))  # fmt: skip
    return tuple(fresh)
