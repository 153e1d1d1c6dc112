"""Border, binding, backing, batting and sleeve as lines of the cutting list."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from sequencer.sheets.followed.job import Job

Line = tuple[str, int, str]
"""What for, how many pieces (a box each), and what to cut, marked up."""


def finishing_lines(job: Job) -> list[Line]:
    """Everything outside the centre that has to be cut, in the order of use."""
    return [
        *_borders(job),
        *_binding(job),
        *_backing(job),
        *_batting(job),
        *_sleeve(job),
    ]


def _borders(job: Job) -> Iterator[Line]:
    whole = job.plan.border
    if not whole:
        return
    listed = whole.get("borders") or [whole]
    for number, border in enumerate(listed, 1):
        which = "Border" if len(listed) == 1 else f"Border {number}"
        cut = job.measure.bare(border["cut_width"])
        text = (
            f"{job.keyed(border['print'])}: "
            f"{_pieces(job, cut, border, 'sides')} for the sides, then "
            f"{_pieces(job, cut, border, 'top_bottom')} for top and bottom. "
            f"Finishes {job.measure.of(border['width'])} wide."
        )
        yield which, 4, text + _bought(job, border)


def _pieces(job: Job, cut: str, border: Mapping[str, Any], part: str) -> str:
    pieces = border[part]
    size = f"{cut} × {job.measure.of(pieces['length'])}"
    return f"{pieces['count']} of <b>{size}</b>"


def _binding(job: Job) -> Iterator[Line]:
    binding = job.plan.binding
    if not binding:
        return
    cut = job.measure.of(binding["cut_width"])
    text = (
        f"{job.keyed(binding['print'])}: {_strips(binding)} cut <b>{cut}</b> wide, "
        f"<b>{job.measure.of(binding['length'])}</b> in all, {binding['fold']} fold"
    )
    joins = binding.get("joins", 0)
    text += f"; {joins} diagonal {'join' if joins == 1 else 'joins'}." if joins else "."
    yield "Binding", int(binding.get("strips", 1)), text + _bought(job, binding)


def _backing(job: Job) -> Iterator[Line]:
    backing = job.plan.backing
    if not backing:
        return
    panels = int(backing.get("panels", 1))
    text = f"<b>{_sheet_size(job, backing)}</b>{_larger(job, backing)}"
    if panels > 1:
        text += f", from {panels} widths of fabric with {backing['seam']} seams"
    yield "Backing", panels, f"{text}." + _bought(job, backing)


def _batting(job: Job) -> Iterator[Line]:
    batting = job.plan.batting
    if batting:
        yield "Batting", 1, f"<b>{_sheet_size(job, batting)}</b>{_larger(job, batting)}."


def _sleeve(job: Job) -> Iterator[Line]:
    sleeve = (job.plan.backing or {}).get("sleeve")
    if sleeve:
        size = f"{job.measure.bare(sleeve['cut_width'])} × {job.measure.of(sleeve['length'])}"
        text = f"<b>{size}</b>, if the piece is to hang. Any strong cloth."
        yield "Sleeve", 1, text + _bought(job, sleeve)


def _sheet_size(job: Job, sheet: Mapping[str, Any]) -> str:
    return job.measure.size((sheet["width"], sheet["height"]))


def _larger(job: Job, sheet: Mapping[str, Any]) -> str:
    extra = sheet.get("per_side")
    return f", {job.measure.of(extra)} larger on each side" if extra else ""


def _strips(cloth: Mapping[str, Any]) -> str:
    count = int(cloth.get("strips", 1))
    return "1 strip" if count == 1 else f"{count} strips"


def _bought(job: Job, cloth: Mapping[str, Any]) -> str:
    if cloth.get("from_scraps"):
        return " Cut from its scraps, as they are drawn."
    length: Fraction | None = cloth.get("cloth")
    return f" From the bolt: {job.measure.off_the_bolt(length)}." if length else ""
