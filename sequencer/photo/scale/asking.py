"""What to ask when no scale can be taken for sure: every question says what to type."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.scale.around import SHEETS_IN, equivalent, paper_of
from sequencer.photo.scale.card import Card
from sequencer.photo.scale.pose import Seen, table_pose
from sequencer.photo.shapes.perspective import project
from sequencer.photo.shapes.shape import Floats, sides

FORMAT_SEEN = 0.025
"""How far the log of a sheet's side ratio may be from its format's."""


def question(photo: Photo, likely: Sequence[Card]) -> str:
    """Which thing may be the card, and what to type if it is."""
    best = likely[0]
    a, b = long_sides(best.corners)[0] * photo.factor
    typed = f"--scale 85.6mm={a[0]:.0f},{a[1]:.0f}-{b[0]:.0f},{b[1]:.0f}"
    if len(likely) > 1:
        return (
            f"{len(likely)} things look like a bank card, so none was taken and sizes are unknown; "
            f"leave one in the picture, or give a length: {typed} if the one there is the card"
        )
    x, y = best.corners.mean(axis=0) * photo.factor
    return (
        f"what lies at {x:.0f},{y:.0f} may be a bank card, but it is not sure, so sizes are "
        f"unknown; if it is one: {typed}, else any other length you know that way"
    )


def square_corners(photo: Photo, card: Card) -> tuple[str, ...]:
    """Say what was taken for the card although its corners look square."""
    x, y = card.corners.mean(axis=0) * photo.factor
    return (
        f"what lies at {x:.0f},{y:.0f} was taken for the bank card although its corners look "
        "square, since its size beside the sheet fits; check one size with a ruler",
    )


def long_sides(corners: Floats) -> tuple[Floats, Floats]:
    """The two ends of each of the longer sides."""
    lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    k = 0 if lengths[0] + lengths[2] >= lengths[1] + lengths[3] else 1
    return corners[[k, k + 1]], corners[[k + 2, (k + 3) % 4]]


def without_card(photo: Photo, asked: bool, sheet: Floats | None) -> tuple[str, ...]:
    """What to type without a card; nothing where none was ``asked`` for and no paper helps."""
    seen = None if sheet is None else paper_of(photo, sheet)
    paper = None if seen is None else _format(photo, seen)
    if paper is None and not asked:
        return ()
    by_paper = f"the sheet's format, --scale {paper.lower()} it seems; or " if paper else ""
    return (
        f"no bank card was found, so sizes are unknown; give {by_paper}a length: "
        "--scale 6in=PIXELS, or better between two points: --scale 6in=X,Y-X,Y",
    )


def _format(photo: Photo, sheet: Seen) -> str | None:
    """The paper format that the sheet's sides fit, seen straight: letter or A4."""
    shape = paper_shape(photo, sheet)
    off = {name: abs(shape - np.log(SHEETS_IN[name][0] / SHEETS_IN[name][1]))
           for name in ("letter", "A4")}  # fmt: skip
    name = min(off, key=lambda one: off[one])
    return name if off[name] < FORMAT_SEEN else None


def paper_shape(photo: Photo, sheet: Seen) -> float:
    """Log of the sheet's long over its short side, by its own four corners."""
    pose = table_pose((sheet,), photo.pixels.shape, equivalent(photo))
    long, short = sides(project(pose.to_plane, sheet.corners))
    return float(np.log(long / short))
