"""Sections put on pages so that no page stays nearly empty.

A section starts on the page before if it fits there whole, else on a new one. Where that leaves a
page less than a third filled, the next section starts on it all the same; where there is none, the
rest of the page becomes ruled lines for notes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from reportlab.platypus import CondPageBreak, KeepTogether, PageBreak, Paragraph

from sequencer.sheets.paper.fonts import BOLD
from sequencer.sheets.paper.layout import (
    INK,
    ITEM,
    RULE,
    SUBHEADING,
    Drawn,
    Heading,
    Story,
    frame_height,
    frame_width,
)

THIN = 0.36
"""A page filled less than this share is thin; a third is promised."""
START = 150.0
"""Points that must be left on a page for a section to start on it unasked."""
NOTE_LINE = 26.0


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it.

    ``alone``: its pages are cut up, nothing shares them. ``whole``: it never starts on a page that
    cannot hold it whole.
    """

    title: str
    content: Story
    alone: bool = False
    whole: bool = False
    headed: bool = True

    @property
    def flows(self) -> bool:
        """Whether it may start on a page that others have begun, and run over."""
        return not (self.alone or self.whole)


@dataclass
class Laid:
    """Where the parts came to lie: each section's first page, and how full each page is."""

    begins: dict[int, int] = field(default_factory=dict)
    filled: dict[int, float] = field(default_factory=dict)

    def see(self, part: Any, template: Any) -> None:
        """Note a part that was just drawn on a page of this template."""
        page, frame = template.page, template.frame
        if isinstance(part, Begin):
            self.begins[part.place] = page
        if frame is not None and not isinstance(part, (CondPageBreak, PageBreak)):
            self.filled[page] = (frame._y2 - frame._y) / frame._height

    def thin(self) -> list[int]:
        """Numbers of the sections whose last page is thin, in order."""
        pages = max(self.filled, default=0)
        ends = {k: self.begins.get(k + 1, pages + 1) - 1 for k in self.begins}
        return [k for k, page in sorted(ends.items())
                if page >= self.begins[k] and self.filled.get(page, 0.0) < THIN]  # fmt: skip


@dataclass
class Joining:
    """Which sections start on the page before, and which end in lines for notes."""

    flowing: set[int] = field(default_factory=set)
    noted: set[int] = field(default_factory=set)

    def mend(self, place: int, sections: Sequence[Section]) -> bool:
        """Do the next thing that can fill this section's last page; False where nothing is left."""
        after = place + 1
        if after < len(sections) and sections[after].flows and after not in self.flowing:
            self.flowing.add(after)
        elif place and sections[place].flows and place not in self.flowing:
            self.flowing.add(place)
        elif place not in self.noted:
            self.noted.add(place)
        else:
            return False
        return True


def settle(make: Callable[[], Sequence[Section]], lay: Callable[[Story], Laid],
           paper: str) -> Joining:  # fmt: skip
    """Lay the sections out until no page is thin that something can fill."""
    joining = Joining()
    while True:
        sections = make()
        thin = lay(story(sections, joining, paper)).thin()
        if not any(joining.mend(place, sections) for place in thin):
            return joining


def story(sections: Sequence[Section], joining: Joining, paper: str) -> Story:
    """All sections one after the other."""
    parts: Story = []
    for place, one in enumerate(sections):
        head: Story = [Heading(one.title)] if one.headed else []
        parts += _start(one, place, sections, joining, paper)
        parts += [Begin(place), *head, *one.content]
        if place in joining.noted:
            parts.append(Notes(frame_width(paper)))
    return parts


def _start(
    one: Section, place: int, sections: Sequence[Section], joining: Joining, paper: str
) -> Story:
    if place == 0:
        return []
    if one.alone or sections[place - 1].alone:
        return [PageBreak()]
    if place in joining.flowing:
        return [CondPageBreak(START)]
    full = frame_height(paper)
    return [CondPageBreak(min(height(one, paper), full - 1))]


def height(one: Section, paper: str) -> float:
    """What a section takes on one endless page, points."""
    width, full = frame_width(paper), frame_height(paper)
    parts = _loose([Heading(one.title), *one.content])
    heights = (part.wrap(width, 10 * full)[1] + part.getSpaceBefore() + part.getSpaceAfter()
               for part in parts if not isinstance(part, (CondPageBreak, PageBreak)))  # fmt: skip
    return float(sum(heights))


def _loose(parts: Story) -> Story:
    """The parts with those kept together taken apart, since together they tell no height."""
    return [inner for part in parts
            for inner in (part._content if isinstance(part, KeepTogether) else [part])]


class Begin(Drawn):
    """Nothing to see: tells the layout that a section begins here."""

    def __init__(self, place: int) -> None:
        super().__init__()
        self.place, self.width, self.height = place, 0.0, 0.0

    def draw(self) -> None:
        """Draw nothing."""


class Notes(Drawn):
    """Ruled lines on what is left of the page."""

    def __init__(self, width: float) -> None:
        super().__init__()
        self.width, self.height = width, 0.0

    def wrap(self, _width: float, height: float) -> tuple[float, float]:
        """All the room there is."""
        self.height = max(0.0, height - 1)
        return self.width, self.height

    def draw(self) -> None:
        """Draw the word and the lines."""
        y = self.height - NOTE_LINE
        if y < NOTE_LINE:
            return
        self.canv.setFillColor(INK)
        self.canv.setFont(BOLD, 11.5)
        self.canv.drawString(0, y, "Your notes")
        self.canv.setStrokeColor(RULE)
        self.canv.setLineWidth(0.6)
        while (y := y - NOTE_LINE) > 0:
            self.canv.line(0, y, self.width, y)


def bullets(texts: Sequence[str], title: str = "") -> Story:
    """Marked-up sentences under a title; neither the first nor the last stands alone on a page."""
    items: Story = [Paragraph(text, ITEM, bulletText="•") for text in texts]
    if not items:
        return []
    head: Story = [Paragraph(title, SUBHEADING)] if title else []
    if len(items) < 4:
        return [KeepTogether([*head, *items])]
    return [KeepTogether([*head, *items[:2]]), *items[2:-2], KeepTogether(items[-2:])]
