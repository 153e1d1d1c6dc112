"""The centre of the piece: patches cut from their cloth and laid in place, seams lit.

Prints are laid one after the other, so only one print's cloth is held at a time.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from sequencer.models import Plan
from sequencer.rendering import relief
from sequencer.rendering.cutting import cutter
from sequencer.rendering.edges import marks
from sequencer.rendering.textures import Light

_NESTED = 0.45
"""How much more a seam shows on the side its allowances are pressed to (by eye, no source)."""


@dataclass(frozen=True)
class Layout:
    """Where the patches lie, in pixels: ``lefts`` of the columns and ``tops`` in each, with ends.

    ``names``: the print of each row, for each column.
    """

    lefts: tuple[int, ...]
    tops: tuple[tuple[int, ...], ...]
    names: tuple[tuple[str, ...], ...]


def lay_out(plan: Plan, inset: Fraction, ppi: float) -> Layout:
    """Place every patch; the centre's corner lies ``inset`` inches inside the picture's."""
    tops, names = [], []
    for c in range(len(plan.columns)):
        column = tuple(plan.patch_print(row, c) for row in range(plan.rows))
        heights = (Fraction(plan.finished_strip[name]) for name in column)
        tops.append(tuple(marks([inset, *heights], ppi)[1:]))
        names.append(column)
    lefts = marks([inset, *(column.finished_width for column in plan.columns)], ppi)[1:]
    return Layout(tuple(lefts), tuple(tops), tuple(names))


def lay_print(
    light: Light,
    plan: Plan,
    layout: Layout,
    name: str,
    cloth: Light,
    ppi: float,
    rng: np.random.Generator,
) -> None:
    """Cut and lay all patches of one print, column after column from the left, in place."""
    cut = cutter(plan, name, cloth, ppi, rng)
    for c, column in enumerate(plan.columns):
        left, right = layout.lefts[c], layout.lefts[c + 1]
        tops = layout.tops[c]
        for row, shown in enumerate(layout.names[c]):
            if shown == name:
                top, bottom = tops[row], tops[row + 1]
                patch = cut.next_patch(float(column.cut_width), right - left, bottom - top)
                light[top:bottom, left:right] = patch


def light_seams(light: Light, plan: Plan, layout: Layout) -> None:
    """Shade the seams of the centre, in place."""
    for c, column in enumerate(plan.columns):
        left, right = layout.lefts[c], layout.lefts[c + 1]
        tops = layout.tops[c]
        if right > left and tops[-1] > tops[0]:
            side = relief.across(float(column.finished_width), right - left)
            down = _down_column(plan, layout, c)
            light[tops[0] : tops[-1], left:right] *= down[:, None, None] * side[None, :, None]


def _down_column(plan: Plan, layout: Layout, c: int) -> relief.Factor:
    """Shading down a column. Seams pressed to one side stand out on that side only."""
    upper = lower = 1.0
    if plan.press != "open":
        lean = _NESTED if c % 2 else -_NESTED
        upper, lower = 1 + lean, 1 - lean
    tops = layout.tops[c]
    parts = [
        relief.across(float(plan.finished_strip[name]), bottom - top, upper, lower)
        for name, top, bottom in zip(layout.names[c], tops[:-1], tops[1:], strict=True)
        if bottom > top
    ]
    return np.concatenate(parts)
