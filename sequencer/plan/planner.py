"""The room's road: what was asked → columns → strip sets → steps → :class:`Plan`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sequencer.errors import UsageError
from sequencer.models import Column, Plan, Print, plain
from sequencer.models import Sequence as Ordered
from sequencer.plan.curves import Curve, Points, read_curve
from sequencer.plan.fabric import Scraps, fabric_needs
from sequencer.plan.finishing import finish, pick_print
from sequencer.plan.follow import follow
from sequencer.plan.layers import count_layers
from sequencer.plan.request import Length, Request, choose, read_pieces
from sequencer.plan.seams import count_seams
from sequencer.plan.setlength import best_set_length
from sequencer.plan.sets import StripSet, plan_sets
from sequencer.plan.steps import sewing_steps
from sequencer.plan.tolerance import simulate_precision
from sequencer.plan.understand import understand
from sequencer.plan.warn import plan_warnings
from sequencer.plan.words import say_steps

if TYPE_CHECKING:
    from sequencer.plan.ledger import Handing


def plan_columns(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    size: str | Sequence[Length] | None = None,
    strip: Length | Sequence[Length] | Mapping[str, Length] | None = None,
    repeats: int | None = None,
    curve: str | Path | Curve | Points | Mapping[str, Any] | None = "wave",
    *,
    columns: str | Sequence[Length] | None = None,
    offsets: str | Sequence[int] | None = None,
    seam: Length | None = None,
    method: str = "loop",
    press: str = "open",
    border: Length | Sequence[Length] | None = None,
    binding: Length | None = None,
    units: str = "in",
    curve_height: float | None = None,
    curve_count: float | None = None,
    curve_phase: float = 0.0,
    steps: Sequence[int] = (1,),
    smallest: Length | None = None,
    largest: Length | None = None,
    symmetric: bool = False,
    price: float = 0.1,
    grid: Length | None = None,
    sets: str = "auto",
    set_length: Length | None = None,
    squaring: Length | None = None,
    usable: Length | None = None,
    join: str = "diagonal",
    border_print: str | None = None,
    binding_print: str | None = None,
    corners: str = "butted",
    backing: Length | None = None,
    directional: Sequence[str] = (),
    pieces: Mapping[str, Sequence[Sequence[Length]]] | None = None,
    tolerance: Length | None = None,
    seed: int = 0,
    prove: bool = False,
) -> Plan:
    """Plan a stepped, curved panel: exact columns, strips, sewing steps and finishing.

    Widths are finished widths in inches unless they carry a unit; cut widths are two allowances
    more. In column c, row r (0 at the top) shows ``order[(r + offset_c) mod n]``.

    Args:
        prints: the prints, sizes (``size_in``) known or not.
        seq: a Sequence or ids in order, 2 or more.
        size: centre without border, ``"8x10"``, (width, height), or ``"A4"`` (ISO 216, upright;
            best with ``units="cm"``); None for a small wall piece.
        strip: one finished strip, a list in sequence, ``{id: width}``, or ``"fit"`` for one or
            two ruler widths that fill the height. None: ``"fit"`` if there is a size, else 1/4 in
            (7 mm with ``units="cm"``), or the seam allowance where that is wider.
        repeats: runs through all prints; None: as ``size`` asks, 3 without a size.
        curve: wave, hill, valley, zigzag, flame, slope, a CSV, JSON or PNG file, or points.
        columns, offsets: explicit finished widths and offsets; either alone leaves the other to
            the curve (widths) or to equal widths (offsets).
        seam: allowance, default 1/4 in or 7 mm; no strip or column may be narrower.
        method: ``loop`` (sew the set's ends together, open each ring) or ``flat``.
        press: ``open``, or ``nested`` (two sets pressed opposite ways).
        border: finished width or several from the inside out, 0 for none (default 1 in, 25 mm).
        binding: cut width of its strips, 0 for none.
        curve_height, curve_count, curve_phase: rows, repeats across the width, shift in repeats.
        steps: rows by which neighbours may differ, from 0, 1, 2.
        smallest, largest: column widths. symmetric: mirror about the middle. price: cost of a
            column against slivers, in squared rows × smallest columns.
        grid: the ruler (default 1/8 in or 1 mm; finer if the lengths given ask for it).
        sets: ``tall`` (one set holds all repeats), ``repeat`` (one repeat, stacked), or ``auto``
            (tall for loop, repeat for flat).
        set_length: longest strip set; default what the scraps serve best, at most ``usable``.
        squaring: taken off each strip set (default 1/2 in). usable: fabric width (default 40 in).
        join: ``diagonal`` or ``straight`` end-to-end joins.
        corners: of the border, ``butted`` or ``mitred``.
        border_print, binding_print: default the darkest print; binding as the border.
        backing: extra on each side (default 2 in for minis, 4 in).
        directional: ids of prints with an up and a down.
        pieces: for some prints, the pieces of each of their strips (sets in order, each set top
            to bottom), to be joined where more than one; default as the scraps allow.
        tolerance: sewing error of a seam (default 1/32 in); seed: of its simulation.
        prove: cut the scraps in the best way there is (least short, fewest joins, joins kept out
            of seams and narrow columns); slower than the quick way, which is good as a rule.

    Raises:
        UsageError: an argument that cannot be understood.
        PlanError: a panel that cannot be cut or sewn, with what would be possible.
    """
    asked = {key: value for key, value in locals().items() if key not in {"prints", "seq"}}
    request = understand(
        prints, seq, size=size, strip=strip, repeats=repeats, columns=columns, offsets=offsets,
        seam=seam, method=method, press=press, units=units, grid=grid, smallest=smallest,
        largest=largest, steps=steps, symmetric=symmetric, price=price, sets=sets,
        squaring=squaring, usable=usable, set_length=set_length, join=join,
        directional=directional, tolerance=tolerance,
    )  # fmt: skip
    shape = read_curve(curve, curve_height, curve_count, curve_phase)
    followed = follow(request, shape)
    known = {item.id: item for item in prints}
    scraps = Scraps(request, known, read_pieces(pieces, request.ids))
    strip_sets, supply = lay_out(request, known, followed.columns, scraps, prove and not pieces)
    framing = pick_print(border_print, prints, request.ids)
    edging = framing if binding_print is None else pick_print(binding_print, prints, request.ids)
    finished = finish(request, border, framing, binding, edging, backing,
                      choose("Corners", corners, ("butted", "mitred")))  # fmt: skip
    sewing = sewing_steps(
        request, followed.columns, strip_sets, supply, finished.borders, finished.binding
    )
    fabric = fabric_needs(request, known, supply, sewing)
    layers = count_layers(request, followed.columns)
    seams = count_seams(request, followed.columns, sewing, finished.borders)
    asked |= _asked_curve(shape)
    precision = simulate_precision(request, followed.columns, seed)
    return Plan(
        prints=request.ids,
        seam=request.seam,
        repeats=request.repeats,
        rows=request.rows,
        finished_strip=dict(request.strips),
        columns=followed.columns,
        centre=(request.width, request.height),
        bordered=finished.bordered,
        fabric=fabric,
        layers=layers,
        seams=seams,
        border=finished.border,
        binding=finished.binding,
        backing=finished.backing,
        batting=finished.batting,
        steps=sewing,
        warnings=(
            *followed.warnings,
            *plan_warnings(
                request, seq, known, followed.columns, fabric, seams, layers, precision,
                [*finished.borders, finished.binding],
            ),
        ),
        fit_rms_rows=followed.rms_rows,
        instructions=say_steps(
            request, followed.columns, strip_sets, sewing, finished, known,
            [need.print for need in fabric if need.short_by],
        ),
        method=request.method,
        press=request.press,
        curve="given" if followed.curve is None else followed.curve.name,
        options=_options(request, followed.curve, asked, precision),
    )


def lay_out(
    request: Request,
    known: Mapping[str, Print],
    columns: Sequence[Column],
    scraps: Scraps,
    prove: bool,
) -> tuple[list[StripSet], Scraps | Handing]:
    """Strip sets, and who hands out their strips: the scraps at once, or the proved ledger."""
    first = best_set_length(request, columns, scraps)
    if not prove:
        sets = plan_sets(request, columns, first)
        scraps.share(sets)
        return sets, scraps
    from sequencer.plan.ledger import Handing
    from sequencer.plan.settle import settle

    sets, ledger = settle(request, known, columns, first)
    return sets, Handing(request, ledger)


def replan(
    plan: Plan, prints: Sequence[Print], seq: Ordered | Sequence[str] | None = None, **changes: Any
) -> Plan:
    """The same plan with some arguments of :func:`plan_columns` changed.

    Raises:
        UsageError: an argument that ``plan_columns`` does not have.
    """
    asked = {**plan.options["asked"], **changes}
    unknown = sorted(set(changes) - set(plan.options["asked"]))
    if unknown:
        raise UsageError(f"A plan has no {', '.join(unknown)} to change.")
    if "curve" in changes:
        asked = {**asked, "curve_height": None, "curve_count": None, "curve_phase": 0.0, **changes}
    return plan_columns(prints, plan.prints if seq is None else seq, **asked)


def _options(
    request: Request, curve: Curve | None, asked: Mapping[str, Any], precision: Mapping[str, float]
) -> dict[str, Any]:
    """Choices as they were settled, and as they were asked (for :func:`replan`)."""
    return {
        "units": request.units,
        "grid": request.grid,
        "smallest": request.smallest,
        "largest": request.largest,
        "steps": list(request.steps),
        "symmetric": request.symmetric,
        "sets": "tall" if request.tall else "repeat",
        "squaring": request.squaring,
        "usable": request.usable,
        "join": request.join,
        "curve": None if curve is None else curve.to_json(),
        "precision": dict(precision),
        "asked": plain({key: _plain(value) for key, value in asked.items()}),
    }


def _asked_curve(shape: Curve) -> dict[str, Any]:
    """The curve's arguments without its file: a name, or the points themselves."""
    drawn = {"name": shape.name, "points": [list(point) for point in shape.points]}
    return {
        "curve": drawn if shape.points else shape.name,
        "curve_height": shape.height,
        "curve_count": None if shape.points else shape.count,
        "curve_phase": shape.phase,
    }


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Path) else value
