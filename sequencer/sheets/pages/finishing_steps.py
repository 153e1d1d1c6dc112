"""After the panel: border, layers, quilting, binding, sleeve. Common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from sequencer.sheets.followed.job import Job

Step = tuple[str, str, tuple[str, ...]]
"""Title, the kind of drawing beside it, and what to do: marked up, a box for each."""


def finishing_steps(job: Job) -> Iterator[Step]:
    """The steps in the order of the work."""
    borders = list((job.plan.border or {}).get("borders") or filter(None, [job.plan.border]))
    for number, border in enumerate(borders, 1):
        title = "Add the border" if len(borders) == 1 else f"Add border {number}"
        yield title, "add_border" if number == 1 else "", tuple(_border(job, border))
    yield "Layer and baste", "", tuple(_layers(job))
    yield "Quilt", "", tuple(_quilting(job))
    yield "Trim", "trim", (_trim(job),)
    if job.plan.binding:
        yield "Bind the edge", "bind", tuple(_binding(job, job.plan.binding))
    yield "Last", "", tuple(_last(job))


# ── border ────────────────────────────────────────────────────────────────────────────────


def _border(job: Job, border: Mapping[str, Any]) -> Iterator[str]:
    show = job.measure
    of = f"{job.keyed(str(border['print']))}, {show.of(border['cut_width'])} wide"
    yield from _piecing(job, border)
    butted = border.get("corners", "butted") == "butted"
    for part, where in (("sides", "left and right"), ("top_bottom", "top and bottom")):
        length = show.of(border[part]["length"])
        if butted:
            yield (
                f"<b>{where.capitalize()}:</b> two of {of}, <b>{length}</b> long. Pin at the "
                "middle and the ends, ease the panel to them, sew, press towards the border, trim "
                "the ends level."
            )
        else:
            yield (
                f"<b>{where.capitalize()}:</b> two of {of}, <b>{length}</b> long. Centre them, "
                f"sew, and stop {show.of(job.plan.seam)} before each edge; the ends hang free."
            )
    if not butted:
        yield (
            "Fold each corner so that two borders lie on one another, sew on the 45° line from the "
            "inner corner to the outer, trim."
        )


def _piecing(job: Job, border: Mapping[str, Any]) -> Iterator[str]:
    """How borders longer than the cloth come together."""
    usable = Fraction(str(job.plan.options.get("usable") or 40))
    lost = 2 * job.plan.seam
    lengths = [Fraction(border[part]["length"]) for part in ("sides", "top_bottom")]
    if max(lengths) <= usable:
        return
    each = [-(-(length - lost) // (usable - lost)) for length in lengths]
    show, strips = job.measure, int(border.get("strips") or 2 * sum(each))
    yield (
        f"<b>Pieced, since the cloth is {show.of(usable)} wide:</b> cut {strips} strips "
        f"{show.of(border['cut_width'])} wide across it, sew them end to end into one run with "
        f"straight {show.of(job.plan.seam)} seams pressed open, and cut the four lengths from it. "
        "Keep a join a hand's width away from corners."
    )


# ── layers, quilting, edge ────────────────────────────────────────────────────────────────


def _layers(job: Job) -> Iterator[str]:
    show, backing, batting = job.measure, job.plan.backing, job.plan.batting
    if backing and int(backing.get("panels", 1)) > 1:
        yield (
            f"Backing: sew {backing['panels']} widths of cloth together, selvages cut off, with "
            f"{backing['seam']} seams pressed open, and trim to "
            f"{show.size((backing['width'], backing['height']))}."
        )
    larger = show.of(backing["per_side"]) if backing and batting else ""
    sizes = f" Backing and batting are {larger} larger on each side." if larger else ""
    yield (
        "Press the top and snip loose threads. Lay the backing wrong side up and smooth it without "
        f"stretching; lay the batting on it, and the top right side up in the middle.{sizes}"
    )
    yield (
        "Baste from the middle outwards, with safety pins or long stitches a hand's width apart. "
        "No pin through a crossing of seams: it is thick there."
    )


def _quilting(job: Job) -> Iterator[str]:
    most = job.plan.layers.get("column_seam_max")
    thick = f", where up to {most} layers lie under the batting's top," if most else ""
    yield (
        "Try thread, needle and tension on a small sandwich of the same cloths first. A walking "
        "foot, where the machine takes one, keeps the layers level."
    )
    yield (
        "Begin in the middle. Straight lines in the ditch of the column seams hold the panel "
        "quietly; lines that follow the curve through the middles of the columns cross fewer "
        f"thick seams. At crossings{thick} go slowly, by the hand wheel if need be."
    )


def _trim(job: Job) -> str:
    raw = _raw(job)
    return (
        "Press lightly if the batting's maker allows it. Trim batting and backing level with the "
        f"top, corners square: <b>{job.measure.size(raw)}</b>."
    )


def _raw(job: Job) -> tuple[Fraction, Fraction]:
    """The top with its raw edges."""
    wide, high = job.plan.bordered
    return wide + 2 * job.plan.seam, high + 2 * job.plan.seam


def _binding(job: Job, binding: Mapping[str, Any]) -> Iterator[str]:
    show = job.measure
    strips = int(binding.get("strips", 1))
    cut = (
        f"cut one strip {show.of(binding['cut_width'])} wide and "
        f"{show.of(binding['length'])} long"
        if strips == 1
        else f"cut {strips} strips {show.of(binding['cut_width'])} wide, join them on the diagonal "
        f"to {show.of(binding['length'])}"
    )
    fold = (
        "fold it in half lengthwise, wrong sides together, and press"
        if binding["fold"] == "double"
        else f"press {show.of(job.plan.seam)} of one long edge to the wrong side"
    )
    yield f"From {job.keyed(str(binding['print']))} {cut}; {fold}.{_why_more(job, binding)}"
    sleeve = (job.plan.backing or {}).get("sleeve")
    if sleeve:
        yield (
            "To hang it: hem the ends of the sleeve strip "
            f"({show.of(sleeve['cut_width'])} × {show.of(sleeve['length'])}), fold it lengthwise, "
            "wrong sides together, and baste its raw edges to the top of the back, so that the "
            "binding's seam catches them."
        )
    yield (
        f"Sew the binding to the front, raw edges level, with a {show.of(job.plan.seam)} seam, "
        "turning each corner with a fold; join the ends on the diagonal; turn it to the back and "
        "sew it down."
    )


def _why_more(job: Job, binding: Mapping[str, Any]) -> str:
    """Why there are more strips than the edge divided by the cloth's width."""
    usable = Fraction(str(job.plan.options.get("usable") or 40))
    around = 2 * sum(job.plan.bordered, Fraction(0))
    plain = -(-around // usable)
    if int(binding.get("strips", 1)) <= plain:
        return ""
    show = job.measure
    return (
        f" The edge alone, {show.of(around)}, would take {plain}; each diagonal join takes "
        f"{show.of(binding['cut_width'])}, and {show.of(binding['length'] - around)} is there to "
        "turn the corners and close the ends."
    )


def _last(job: Job) -> Iterator[str]:
    if (job.plan.backing or {}).get("sleeve"):
        yield "Sew the fold of the sleeve down by hand, with a little slack for the rod."
    yield "Sew a label to the back: title, name, place and date."
