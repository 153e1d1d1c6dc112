"""Colours to look for at the shop: a square of 2 in for each print that the sequence lacks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reportlab.lib.units import inch
from reportlab.platypus import Paragraph, Spacer, Table

from sequencer.models import Json
from sequencer.sheets.fonts import printable
from sequencer.sheets.job import Job, marked
from sequencer.sheets.layout import BODY, INK, SMALL, SUBHEADING, Drawn, Story, section
from sequencer.sheets.marks import ValueBar, rgb
from sequencer.sheets.tables import side_by_side

SIDE = 2 * inch
ACCENT = 0.62 * inch
MOST_ACCENTS = 4


def swatch_card(job: Job) -> Story:
    """The page's story; empty without bridges that name a colour."""
    wanted = [bridge for bridge in job.bridges if _palette(bridge)]
    if not wanted:
        return []
    story: Story = [
        *section("Colours to look for"),
        Paragraph(
            "A print near one of these would soften a jump in the sequence. Cut out the square "
            "and take it along with a scrap of either neighbour.", BODY,
        ),
        Spacer(0, 3),
        Paragraph(
            "A printer's colours are near, never exact. Trust the value first, look in daylight, "
            "and let the cloth decide.", SMALL,
        ),
        Spacer(0, 10),
    ]  # fmt: skip
    for bridge in wanted:
        story += [_entry(job, bridge), Spacer(0, 14)]
    return story


class _Colours(Drawn):
    """The main colour as a 2 in square, the others in small squares beside it."""

    def __init__(self, palette: list[Mapping[str, Any]]) -> None:
        super().__init__()
        self._main, *self._others = palette[: MOST_ACCENTS + 1]
        self.width, self.height = SIDE + 10 + ACCENT, SIDE

    def draw(self) -> None:
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.5)
        self._square(self._main, 0, 0, SIDE)
        step = (SIDE - ACCENT) / (MOST_ACCENTS - 1)
        for place, other in enumerate(self._others[:MOST_ACCENTS]):
            side = min(ACCENT, step - 4)
            self._square(other, SIDE + 10, SIDE - side - place * step, side)

    def _square(self, colour: Mapping[str, Any], x: float, y: float, side: float) -> None:
        self.canv.setFillColor(rgb(tuple(colour["lab"])))
        self.canv.rect(x, y, side, side, fill=1)


def _entry(job: Job, bridge: Json) -> Table:
    palette = _palette(bridge)
    colours = _Colours(palette)
    words = _words(job, bridge, palette)
    wide = colours.width + 16
    return side_by_side([colours, words], [wide, job.width - wide])


def _words(job: Job, bridge: Json, palette: list[Mapping[str, Any]]) -> Story:
    name = printable(str(bridge.get("name") or palette[0].get("name") or "A colour between"))
    words: Story = [Paragraph(marked(name[:1].upper() + name[1:]), SUBHEADING)]
    if bridge.get("a") and bridge.get("b"):
        a, b = (job.keyed(str(bridge[end])) for end in ("a", "b"))
        words.append(Paragraph(f"Between {a} and {b}", BODY))
    parts = [
        f"{marked(printable(str(colour.get('name') or 'this colour')))} "
        f"{round(float(colour['share']) * 100)} %"
        for colour in palette[: MOST_ACCENTS + 1]
        if "share" in colour
    ]
    if len(parts) > 1:
        words.append(Paragraph(", ".join(parts), BODY))
    value = bridge.get("value")
    if value is None:
        value = palette[0]["lab"][0]
    words += [Spacer(0, 6), Paragraph("Value, 0 black to 100 white:", SMALL), Spacer(0, 2),
              ValueBar(float(value), 150)]  # fmt: skip
    return words


def _palette(bridge: Json) -> list[Mapping[str, Any]]:
    palette = [colour for colour in bridge.get("palette") or () if colour.get("lab")]
    if not palette and bridge.get("lab"):
        return [{"lab": bridge["lab"], "name": bridge.get("name", "")}]
    return palette
