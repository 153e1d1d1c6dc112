"""Border, binding, backing, batting and sleeve, and how much cloth they take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError, UsageError
from sequencer.inches import round_up
from sequencer.models import EdgeUse, Print
from sequencer.plan.asked import Length, Request, length, parse_widths
from sequencer.plan.cloth.shopping import bought, cloth_for, lanes, strips_across

Size = tuple[Fraction, Fraction]
MINI_BINDING = Fraction(16)
MINI = Fraction(24)
"""Up to this longest side a piece counts as a mini (common practice, no source)."""


def pick_print(given: str, prints: Sequence[Print]) -> str:
    """The print asked for.

    Raises:
        UsageError: a print that was not read.
    """
    if not isinstance(given, str) or given not in {item.id for item in prints}:
        raise UsageError(f"There is no print '{given}' for border or binding.")
    return given


@dataclass(frozen=True)
class Finishing:
    """All that comes after the centre. ``borders`` from the inside out; sizes finished.

    ``edges``: border and binding cut from scraps.
    """

    borders: tuple[dict[str, Any], ...]
    border: dict[str, Any] | None
    binding: dict[str, Any] | None
    backing: dict[str, Any]
    batting: dict[str, Any]
    bordered: Size
    outside: Size
    edges: tuple[EdgeUse, ...] = ()

    @property
    def bought(self) -> bool:
        """Whether there is a border that the scraps do not give."""
        return any(not border.get("from_scraps") for border in self.borders)


def finish(
    request: Request,
    border: Any,
    border_print: str,
    binding: Length | None,
    binding_print: str,
    backing: Length | None,
    corners: str = "butted",
) -> Finishing:
    """Plan border, binding, backing, batting and sleeve around the centre."""
    borders, bordered = plan_borders(request, border, border_print, corners)
    outside = (bordered[0] + 2 * request.seam, bordered[1] + 2 * request.seam)
    return Finishing(
        borders=tuple(borders),
        border=_whole_border(borders),
        binding=plan_binding(request, binding, binding_print, bordered),
        backing={**plan_backing(request, backing, outside),
                 "sleeve": plan_sleeve(request, outside)},
        batting=plan_batting(request, backing, outside),
        bordered=bordered,
        outside=outside,
    )  # fmt: skip


def _whole_border(borders: Sequence[dict[str, Any]]) -> dict[str, Any] | None:
    """The innermost border's figures, the whole width, and every border."""
    if not borders:
        return None
    total = sum((border["width"] for border in borders), Fraction(0))
    return {**borders[0], "total_width": total, "borders": list(borders)}


def plan_borders(
    request: Request, given: Any, print_id: str, corners: str = "butted"
) -> tuple[list[dict[str, Any]], Size]:
    """Butted borders from the inside out, and the bordered size (finished).

    Butted: the two sides come first, as long as the panel is high; then top and bottom, as long as
    it has become wide. Mitred: all four are cut longer by the border's width at either end. Every
    border is cut two allowances wider than it finishes: one goes into its inner seam, the other
    into the next border's seam or under the binding.
    """
    widths = _border_widths(request, given)
    width, height = request.width, request.height
    borders = []
    for finished in widths:
        cut = request.cut(finished)
        if corners == "mitred":
            sides, across = height + 2 * cut, width + 2 * cut
        else:
            sides, across = height + 2 * request.seam, width + 2 * finished + 2 * request.seam
        lengths = [sides, sides, across, across]
        borders.append({
            "print": print_id, "width": finished, "cut_width": cut,
            "sides": {"count": 2, "length": sides},
            "top_bottom": {"count": 2, "length": across},
            "corners": corners, "strips": lanes(lengths, request.usable, 2 * request.seam),
            "cloth": cloth_for(request, cut, lengths),
        })  # fmt: skip
        width, height = width + 2 * finished, height + 2 * finished
    return borders, (width, height)


def _border_widths(request: Request, given: Any) -> tuple[Fraction, ...]:
    if given is None:
        return (request.customs.border,)
    if isinstance(given, (str, list, tuple)) and (not isinstance(given, str) or "," in given):
        widths = parse_widths("Border", given) or ()
    else:
        widths = (length("Border", given),)
        if not widths[0]:
            return ()
    for width in widths:
        if width < request.seam:
            raise PlanError(
                f"Border {request.show(width)} finished is narrower than the seam allowance "
                f"{request.show(request.seam)}, which would have nowhere to go. Use at least "
                f"{request.show(request.seam)}, or 0 for none."
            )
        if width > 40:
            raise PlanError(f"A border of {request.show(width)} is wider than most beds' drop.")
    if len(widths) > 8:
        raise PlanError(f"{len(widths)} borders are too many: 8 at most.")
    return widths


def plan_binding(
    request: Request, given: Length | None, print_id: str, bordered: Size
) -> dict[str, Any] | None:
    """Binding strips: cut width, fold, length with the overlap to finish, joins on the diagonal.

    Double fold (folded lengthwise first) from six allowances upward, single fold below; minis
    take single fold by default. Length: the edge all round plus 10 to 12 in.
    """
    customs = request.customs
    outside = (bordered[0] + 2 * request.seam, bordered[1] + 2 * request.seam)
    if given is None:
        mini = max(bordered) <= MINI_BINDING
        custom, folds = (customs.single_binding, 4) if mini else (customs.double_binding, 6)
        cut = max(custom, round_up(folds * request.seam, request.grid))
    else:
        cut = length("Binding", given)
        if not cut:
            return None
        if cut < 4 * request.seam:
            raise UsageError(
                f"Binding {request.show(cut)} cut cannot wrap the edge: it takes four seam "
                f"allowances, {request.show(4 * request.seam)}, or 0 for none."
            )
        if cut > 12:
            raise UsageError(f"Binding {request.show(cut)} is wider than any binding.")
    around = 2 * (bordered[0] + bordered[1])
    total = max(around + customs.overlap, 2 * sum(outside) + customs.overlap * 5 / 6)
    total = round_up(total, request.grid)
    strips = strips_across(total, request.usable, cut)
    return {
        "print": print_id, "cut_width": cut, "fold": "double" if cut >= 6 * request.seam
        else "single", "length": total, "strips": strips, "joins": strips - 1,
        "covers": request.seam, "outside": list(outside),
        "cloth": bought(strips * cut, request),
    }  # fmt: skip


def plan_backing(request: Request, per_side: Length | None, outside: Size) -> dict[str, Any]:
    """Backing larger than the top on every side, with a seam where the fabric is too narrow.

    Of an upright and a crosswise seam the one that takes less cloth is chosen.
    """
    extra = _per_side(request, per_side, outside)
    width, height = outside[0] + 2 * extra, outside[1] + 2 * extra
    ways = []
    for seam, across, along in (("upright", width, height), ("crosswise", height, width)):
        panels = strips_across(across, request.usable, 2 * request.seam)
        ways.append((panels * along, panels > 1, seam, panels))
    cloth, _, seam, panels = min(ways)
    return {
        "width": width, "height": height, "per_side": extra, "panels": panels,
        "seam": seam if panels > 1 else "none", "cloth": bought(cloth, request),
    }  # fmt: skip


def plan_batting(request: Request, per_side: Length | None, outside: Size) -> dict[str, Any]:
    """Batting, as much larger than the top as the backing."""
    extra = _per_side(request, per_side, outside)
    return {
        "width": outside[0] + 2 * extra, "height": outside[1] + 2 * extra, "per_side": extra,
    }  # fmt: skip


def plan_sleeve(request: Request, outside: Size) -> dict[str, Any]:
    """Hanging sleeve: one strip a little shorter than the top is wide, hemmed at both ends."""
    cut_height = request.customs.sleeve
    cut = outside[0] if outside[0] > 2 else Fraction(2)
    strips = strips_across(cut, request.usable, 2 * request.seam)
    return {"cut_width": cut_height, "length": cut, "strips": strips,
            "cloth": bought(strips * cut_height, request)}  # fmt: skip


def _per_side(request: Request, given: Length | None, outside: Size) -> Fraction:
    if given is not None:
        return length("Backing", given)
    customs = request.customs
    return customs.per_side_mini if max(outside) <= MINI else customs.per_side_large
