"""What is said of the cloth before cutting: sizes, shortage, margins, border, joins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.keys import listed
from sequencer.models import FabricNeed, Print
from sequencer.plan.asked import Request
from sequencer.plan.telling import exact

Found = tuple[str, str] | None


def in_words(words: Sequence[str], most: int = 6) -> str:
    """``a, b and c``; of more than ``most`` the rest is counted."""
    if len(words) > most:
        return f"{', '.join(words[:most])} and {len(words) - most} more"
    return listed(words)


def unknown_sizes(
    known: Mapping[str, Print], fabric: Sequence[FabricNeed]
) -> Found:
    """Prints of no known size, and the piece that each must be."""
    unknown = [need for need in fabric if need.have_length is None]
    if not unknown:
        return None
    if len(unknown) == len(fabric):
        long, short = unknown[0].piece or (Fraction(0), Fraction(0))
        alike = len({need.piece for need in unknown}) == 1
        least = (f"at least {exact(long)} x {exact(short)} of each" if alike else
                 "a piece of each as the cutting list says")  # fmt: skip
        return "sizes_unknown", (
            f"No size is known for any print. Needed is {least}. Measure and compare, or give "
            "sizes: passalong size FOLDER NAME=18x22."
        )
    told = [
        f"{known[need.print].name or need.print} needs a piece of at least "
        f"{exact(need.piece[0])} x {exact(need.piece[1])}"
        for need in unknown if need.piece
    ]  # fmt: skip
    return "sizes_unknown", f"Without a size: {_listed(told)}."


def short(request: Request, known: Mapping[str, Print], fabric: Sequence[FabricNeed]) -> Found:
    """What is lacking; apart, prints with enough length in too short pieces."""
    lacking: list[str] = []
    broken: list[str] = []
    for need in sorted(fabric, key=lambda need: -need.short_by):
        if need.short_by <= 0 or need.have_length is None:
            continue
        name = known[need.print].name or need.print
        clause = f"{name} lacks {exact(need.short_by)} of {exact(need.needed_length)}"
        (broken if need.have_length >= need.needed_length else lacking).append(clause)
    told = []
    if lacking:
        told.append(f"Too little cloth, counted in length of strip: {_listed(lacking)}.")
    if broken:
        told.append("Enough strip in all, but in pieces too short to be joined to the strip sets' "
                    f"length: {_listed(broken)}.")  # fmt: skip
    if not told:
        return None
    return "short", (
        f"{' '.join(told)} Use fewer or narrower columns, fewer repeats or narrower strips, add "
        "another scrap, or ask for the best piece that these scraps make."
    )


def margins(known: Mapping[str, Print], fabric: Sequence[FabricNeed]) -> Found:
    """Scraps whose cuts only fit if the photo measured them true."""
    doubtful = [
        f"scrap {use.scrap + 1} of {known[need.print].name or need.print} must be at least "
        f"{exact(use.at_least[0])} x {exact(use.at_least[1])}"
        for need in fabric for use in need.scraps if not use.sure
    ]  # fmt: skip
    if not doubtful:
        return None
    return "margin", (
        f"Cut only after measuring, since a photo may show them too large: {_listed(doubtful)}."
    )


def _listed(clauses: Sequence[str], most: int = 6) -> str:
    """Clauses that hold commas of their own."""
    more = [f"and {len(clauses) - most} more prints"] if len(clauses) > most else []
    return "; ".join([*clauses[:most], *more])


def frame(known: Mapping[str, Print], framing: Sequence[Mapping[str, Any] | None]) -> Found:
    """Border and binding of a print whose scraps do not hold them beside its strips."""
    short: dict[str, list[str]] = {}
    for piece in filter(None, framing):
        item = known[piece["print"]]
        sized = item.scraps or item.cuttable_in
        what = "border" if "sides" in piece else "binding"
        if sized and not piece.get("from_scraps") and what not in short.get(item.id, []):
            short.setdefault(item.id, []).append(what)
    if not short:
        return None
    told = [f"the {' and '.join(what)} of {known[key].name or key}" for key, what in short.items()]
    return "frame_cloth", (
        f"Buy cloth for {in_words(told)}: the scraps do not hold it beside the strips. Or frame "
        "the piece with another cloth of that value."
    )


def joins(fabric: Sequence[FabricNeed]) -> Found:
    """How many strips are joined."""
    joins = sum(need.joins for need in fabric)
    if not joins:
        return None
    return "joins", (
        f"{'One join' if joins == 1 else f'{joins} joins'} of strips end to end, kept out of "
        "narrow columns; the join tables say where each one falls."
    )
