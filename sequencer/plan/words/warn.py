"""What the maker should know before cutting: each a stable code and a plain sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.inches import on_grid
from sequencer.models import Column, FabricNeed, PlanWarning, Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.asked import Request
from sequencer.plan.cloth import cloth_area
from sequencer.plan.telling import exact, tell_all


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
    """Every warning that applies, in the order of the work."""
    found = [
        _open_sequence(known, seq),
        _unknown_sizes(known, fabric),
        _short(request, known, fabric),
        _margins(known, fabric),
        _frame(known, fabric, framing),
        _joins(fabric),
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


Found = tuple[str, str] | None


def _list(words: Sequence[str], most: int = 6) -> str:
    if len(words) > most:
        return f"{', '.join(words[:most])} and {len(words) - most} more"
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _runs(numbers: Sequence[int]) -> str:
    """``2, 3 and 10 to 17``."""
    starts = [n for n in numbers if n - 1 not in numbers]
    ends = [n for n in numbers if n + 1 not in numbers]
    parts = [
        part
        for a, b in zip(starts, ends, strict=True)
        for part in ([f"{a} to {b}"] if b > a + 1 else dict.fromkeys([str(a), str(b)]))
    ]
    return _list(parts, 12)


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


def _unknown_sizes(
    known: Mapping[str, Print], fabric: Sequence[FabricNeed]
) -> Found:
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


def _short(request: Request, known: Mapping[str, Print], fabric: Sequence[FabricNeed]) -> Found:
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


def _margins(known: Mapping[str, Print], fabric: Sequence[FabricNeed]) -> Found:
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


def _frame(
    known: Mapping[str, Print],
    fabric: Sequence[FabricNeed],
    framing: Sequence[Mapping[str, Any] | None],
) -> Found:
    """Border and binding out of a scrap whose strips leave too little of it, by area."""
    strips = {
        need.print: sum((s.width * s.length for s in need.strips), Fraction(0)) for need in fabric
    }
    frame: dict[str, Fraction] = {}
    for piece in filter(None, framing):
        frame[piece["print"]] = frame.get(piece["print"], Fraction(0)) + _area(piece)
    short = []
    for key, area in frame.items():
        have = cloth_area(known[key])
        if have is not None and area + strips.get(key, 0) > have:
            short.append(known[key].name or key)
    if not short:
        return None
    return "frame_cloth", (
        f"The scrap of {_list(short)} does not hold border and binding beside its strips. Buy a "
        "length of it, or frame the piece with another cloth of that value."
    )


def _area(piece: Mapping[str, Any]) -> Fraction:
    """Cloth in one border (four strips) or in the binding, in square inches."""
    width = Fraction(piece["cut_width"])
    if "sides" in piece:
        return 2 * width * Fraction(piece["sides"]["length"] + piece["top_bottom"]["length"])
    return width * Fraction(piece["length"])


def _joins(fabric: Sequence[FabricNeed]) -> Found:
    joins = sum(need.joins for need in fabric)
    if not joins:
        return None
    return "joins", (
        f"{'One join' if joins == 1 else f'{joins} joins'} of strips end to end, kept out of "
        "narrow columns; the join tables say where each one falls."
    )


def _off_ruler(request: Request) -> Found:
    odd = sorted({request.cut(w) for w in request.strips.values()
                  if not on_grid(request.cut(w), request.grid)})  # fmt: skip
    if not odd:
        return None
    return "off_ruler", (
        f"Strips cut {_list([exact(width) for width in odd])} do not lie on a "
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
        f"up to {layers['panel_max']} layers thick. {most}What helps: {_list(ease)}; wider strips "
        "lie flatter."
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
        names = _list([known[key].name or key for key in told])
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
        f"Column {_list(slivers)} turns the curve but is not half as wide as its neighbours: a "
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
        f"{_list(names)} {has} an up and a down. Strips are cut along the first side of each scrap "
        "only (the longer one where the photo measured it); if its figures stand along that side, "
        "give the sides the other way round. Sew them all the same way up. No step here turns a "
        "segment over."
    )
