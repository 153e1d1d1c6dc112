"""Colours to look for at the shop: a square of 2 in for each print that the sequence lacks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reportlab.lib.units import inch
from reportlab.platypus import KeepTogether, Paragraph, Spacer, Table

from sequencer.models import Json
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.paper.fonts import printable
from sequencer.sheets.paper.layout import BODY, INK, SMALL, SUBHEADING, Drawn, Story
from sequencer.sheets.paper.marks import ValueBar, rgb
from sequencer.sheets.paper.measure import NBSP
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import side_by_side

SIDE = 2 * inch
Palette = list[Mapping[str, Any]]


def swatch_card(job: Job) -> Section | None:
    """The page's section; None where no bridge says what to look for.

    A bridge is a mapping with ``a`` and ``b`` (the two prints) and ``look_for``: ``palette``,
    ``value`` and plain ``name``. Those three may also stand in the bridge itself.
    """
    wanted = [(bridge, look) for bridge in job.bridges if (look := _look_for(bridge))]
    if not wanted:
        return None
    story: Story = [
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
    for bridge, look in wanted:
        story.append(KeepTogether([_entry(job, bridge, look), Spacer(0, 14)]))
    return Section("Colours to look for", story)


class _Square(Drawn):
    """A 2 in square, each colour as wide as its share of the cloth."""

    def __init__(self, palette: Palette) -> None:
        super().__init__()
        self._palette = palette
        self.width = self.height = SIDE

    def draw(self) -> None:
        total = sum(_share(colour) for colour in self._palette)
        x = 0.0
        for colour in self._palette:
            width = SIDE * _share(colour) / total
            self.canv.setFillColor(rgb(tuple(colour["lab"])))
            self.canv.rect(x, 0, width, SIDE, stroke=0, fill=1)
            x += width
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.5)
        self.canv.rect(0, 0, SIDE, SIDE)


def _entry(job: Job, bridge: Json, look: Json) -> Table:
    palette = _palette(look)
    wide = SIDE + 18
    return side_by_side(
        [_Square(palette), _words(job, bridge, look)], [wide, job.width - wide]
    )


def _words(job: Job, bridge: Json, look: Json) -> Story:
    palette = _palette(look)
    name = printable(str(look.get("name") or "A colour between"))
    words: Story = [Paragraph(marked(name[:1].upper() + name[1:]), SUBHEADING)]
    if bridge.get("a") and bridge.get("b"):
        a, b = (job.keyed(str(bridge[end])) for end in ("a", "b"))
        words += [Paragraph(f"Between {a} and {b}", BODY), Spacer(0, 4)]
    if len(palette) > 1:
        words += [Paragraph(_parts(palette), BODY), Spacer(0, 4)]
    value = look.get("value")
    shown = float(palette[0]["lab"][0] if value is None else value)
    words += [Paragraph("Value, 0 black to 100 white:", SMALL), Spacer(0, 2), ValueBar(shown, 150)]
    return words


def _parts(palette: Palette) -> str:
    named = [printable(str(colour.get("name") or "a colour")) for colour in palette]
    shares = [f"{round(_share(colour) * 100)}{NBSP}%" for colour in palette]
    return "From the left: " + ", ".join(
        f"{marked(name)} {share}" for name, share in zip(named, shares, strict=True)
    )


def _look_for(bridge: Json) -> Json | None:
    look = bridge.get("look_for") if "look_for" in bridge else bridge
    return look if look and _palette(look) else None


def _palette(look: Json) -> Palette:
    listed: Palette = [colour for colour in look.get("palette") or () if colour.get("lab")]
    return listed or ([{"lab": look["lab"], "share": 1.0}] if look.get("lab") else [])


def _share(colour: Mapping[str, Any]) -> float:
    return float(colour.get("share") or 1.0)
