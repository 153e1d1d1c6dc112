"""The whole flow on one page: what each room hands to the next.

photo → :class:`Print` → graph → :class:`Sequence` → :class:`ContrastReport` → :class:`Plan`

Records are frozen. Lengths are :class:`~fractions.Fraction` of an inch. Colours are CIELAB,
D65, 2° observer, as ``(L, a, b)``. Pixel coordinates are x, y in the photo turned upright.
"""

from sequencer.models.cloth import Found, PaletteColour, Print, Rejected, Seen, Swatch
from sequencer.models.cutting import (
    Column,
    EdgeUse,
    FabricNeed,
    Point,
    ScrapCut,
    ScrapUse,
    SetStrip,
    SetTable,
    StripCut,
)
from sequencer.models.order import Alternative, ContrastReport, Neighbours, Sequence
from sequencer.models.plainly import Json, Lab, Pixels, Progress, plain
from sequencer.models.plan import Instruction, Plan, PlanWarning

__all__ = [  # noqa: RUF022 - as the work flows
    "Lab", "Pixels", "Json", "Progress", "plain",
    "PaletteColour", "Swatch", "Seen", "Found", "Print", "Rejected",
    "Neighbours", "Alternative", "Sequence", "ContrastReport",
    "Column", "Point", "StripCut", "ScrapCut", "ScrapUse", "EdgeUse", "FabricNeed", "SetStrip",
    "SetTable",
    "PlanWarning", "Instruction", "Plan",
]  # fmt: skip
