"""What the maker should know before cutting: each a stable code and a plain sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sequencer.inches import on_grid
from sequencer.keys import labels
from sequencer.models import Column, FabricNeed, PlanWarning, Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.asked import Request
from sequencer.plan.telling import exact, tell_all
from sequencer.plan.words import cloth
from sequencer.plan.words.cloth import Found, in_words


def plan_warnings(
    request: Request,
    seq: Ordered | Sequence[str],
    known: Mapping[str, Print],
    columns: Sequence[Column],
    fabric: Sequence[FabricNeed],
    seams: Mapping[str, Any],
    layers: Mapping[str, Any],
    precision: Mapping[str, float],
    framing: Sequence[Mapping[str, Any] | None],
) -> tuple[PlanWarning, ...]:
    """Every warning that applies, in the order of the work. Prints are called as everywhere."""
    called = labels(known.values(), request.ids)
    known = {key: replace(one, name=called[key]) for key, one in known.items()}
    found = [
        _open_sequence(known, seq),
        cloth.unknown_sizes(known, fabric),
        cloth.short(request, known, fabric),
        cloth.margins(known, fabric),
        cloth.frame(known, framing),
        cloth.joins(fabric),
        _off_ruler(request),
        _bulk(request, known, columns, layers),
        _one_column(request, columns),
        _checks(request, columns),
        _slivers(request, columns),
        _nesting(request),
        _opening(request, seams),
        _precision(request, columns, precision),
        _directional(request, known),
    ]
    return tuple(warning(request, *item) for item in found if item)


def warning(request: Request, code: str, text: str) -> PlanWarning:
    """A warning in the plan's units and in either."""
    return PlanWarning(code, *tell_all(text, request.units))


def _runs(numbers: Sequence[int]) -> str:
    """``2, 3 and 10 to 17``."""
    starts = [n for n in numbers if n - 1 not in numbers]
    ends = [n for n in numbers if n + 1 not in numbers]
    parts = [
        part
        for a, b in zip(starts, ends, strict=True)
        for part in ([f"{a} to {b}"] if b > a + 1 else dict.fromkeys([str(a), str(b)]))
    ]
    return in_words(parts, 12)


def _open_sequence(known: Mapping[str, Print], seq: Ordered | Sequence[str]) -> Found:
    if not isinstance(seq, Ordered) or seq.loop:
        return None
    last, first = (known[key].name or key for key in (seq.order[-1], seq.order[0]))
    return "open_sequence", (
        f"The sequence was found without its closing pair, but columns are shifted round: "
        f"{last} will meet {first}. Order the prints as a loop to make that "
        "meeting gentle."
    )


FEWEST_FOR_A_CURVE = 4
"""With fewer prints a row meets its like so soon that steps read as checks (our judgement)."""


def _checks(request: Request, columns: Sequence[Column]) -> Found:
    shifts = {column.offset for column in columns}
    if len(request.ids) >= FEWEST_FOR_A_CURVE or len(shifts) < 2 or request.rows <= 3:
        return None
    return "checks", (
        f"{len(request.ids)} prints come round again after {len(request.ids)} rows: stepped "
        "columns of them read as checks, not as a curve. Four prints or more, in an even run of "
        "value, draw the line."
    )


def _off_ruler(request: Request) -> Found:
    odd = sorted({request.cut(w) for w in request.strips.values()
                  if not on_grid(request.cut(w), request.grid)})  # fmt: skip
    if not odd:
        return None
    return "off_ruler", (
        f"Strips cut {in_words([exact(width) for width in odd])} do not lie on a "
        f"{exact(request.grid)} ruler. Cut by a paper template, or choose another strip."
    )


THICK = 6
"""Layers from which a column seam is told to be thick (our choice)."""


def _bulk(
    request: Request,
    known: Mapping[str, Print],
    columns: Sequence[Column],
    layers: Mapping[str, Any],
) -> Found:
    if layers["column_seam_max"] < THICK:
        return None
    ease = [] if request.press == "open" else ["press open"]
    ease += ["trim allowances to half after sewing", "finger-press before the iron",
             "sew slowly with a longer stitch"]  # fmt: skip
    narrow = [i for i, one in enumerate(columns, 1) if one.finished_width < 2 * request.seam]
    most = f"Most of all in columns {_runs(narrow)}. " if 1 < len(narrow) < len(columns) else ""
    return "bulk", (
        f"Column seams go through up to {layers['column_seam_max']} layers (typically "
        f"{layers['column_seam_typical']}){_where_thick(request, known, layers)}, and the top is "
        f"up to {layers['panel_max']} layers thick. {most}What helps: {in_words(ease)}; wider "
        "strips lie flatter."
    )


def _where_thick(
    request: Request, known: Mapping[str, Print], layers: Mapping[str, Any]
) -> str:
    """Which column seams and which strips, where it is not all of them."""
    seams = [one["columns"][0] for one in layers["column_seams"] if one["most"] >= THICK]
    thin = [key for key in request.ids if request.strips[key] < 2 * request.seam]
    where = []
    if len(seams) < len(layers["column_seams"]):
        where.append(f"to the right of column{'s' * (len(seams) > 1)} {_runs(seams)}")
    if 0 < len(thin) < len(request.ids):
        most = len(thin) > len(request.ids) / 2
        told = [key for key in request.ids if (key in thin) != most]
        names = in_words([known[key].name or key for key in told])
        where.append(f"at all strips but {names}" if most else
                     f"at the strip{'s' * (len(told) > 1)} of {names}")  # fmt: skip
    elif (layers["crossings"]["between_seams"] or 0) >= THICK:
        where.append("in the middle of each strip, where the allowances of its two seams overlap")
    elif (layers["crossings"]["seam_on_seam"] or 0) >= THICK:
        where.append("all along")
    return f", {', '.join(where)}" if where else ""


def _one_column(request: Request, columns: Sequence[Column]) -> Found:
    if len(columns) > 1:
        return None
    return "one_column", (
        f"There is one column, {exact(columns[0].finished_width)} wide, so nothing steps. "
        "Column widths are listed one by one; leave them out to let the curve choose."
    )


def _slivers(request: Request, columns: Sequence[Column]) -> Found:
    """A turning column narrower than both neighbours points where a crest should be round."""
    slivers = [
        f"{i + 2} ({exact(here.finished_width)})"
        for i, (left, here, right) in enumerate(
            zip(columns[:-2], columns[1:-1], columns[2:], strict=True)
        )
        if left.offset == right.offset != here.offset
        and here.finished_width * 2 <= min(left.finished_width, right.finished_width)
    ]
    if not slivers or len(request.ids) == 2:
        return None
    return "slivers", (
        f"Column {in_words(slivers)} turns the curve but is not half as wide as its neighbours: a "
        "sliver at a crest. Raise the price of a column, or change the curve's height by a row."
    )


def _nesting(request: Request) -> Found:
    if request.press != "nested" or len(set(request.strips.values())) == 1:
        return None
    return "nesting", (
        "Strips differ in width, so seams of neighbouring columns meet only here and there and "
        "cannot nest. Press open, or use one strip width."
    )


def _opening(request: Request, seams: Mapping[str, Any]) -> Found:
    if request.method != "loop" or request.tall or request.repeats == 1 or not seams["opened"]:
        return None
    return "seams_to_open", (
        f"{seams['opened']} seams have to be opened, {request.repeats} in each shifted column. "
        "Tall sets, or the flat method, open one in each."
    )


def _precision(
    request: Request, columns: Sequence[Column], precision: Mapping[str, float]
) -> Found:
    if precision["pinned_share"] < 0.1:
        return None
    return "precision", (
        f"If seams are true to {exact(request.tolerance)}, expect them to miss each other "
        f"at column joins by up to {precision['pinned_share']:.0%} of a strip where every repeat "
        f"is pinned, {precision['unpinned_share']:.0%} where only the middle is."
    )


def _directional(request: Request, known: Mapping[str, Print]) -> Found:
    if not request.directional:
        return None
    names = [known[key].name or key for key in request.ids if key in request.directional]
    has = "has" if len(names) == 1 else "have"
    return "directional", (
        f"{in_words(names)} {has} an up and a down. Strips are cut along the first side of each "
        "scrap only (the longer one where the photo measured it); if its figures stand along that "
        "side, give the sides the other way round. Sew them all the same way up. No step here "
        "turns a segment over."
    )
