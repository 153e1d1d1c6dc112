"""Sheets as a reader of the PDF finds them: words, ink, and what no page may hold."""

from __future__ import annotations

import io
from pathlib import Path

from pypdf import PdfReader

from sequencer import plan_columns, write_sheets
from sequencer.models import Plan, Print
from tests.made.sheets.ink import Ink, ink_of, overlap

LETTER = (8.5 * 72, 11 * 72)
"""8 1/2 × 11 in: ANSI/ASME Y14.1 size A."""
A4 = (210 / 25.4 * 72, 297 / 25.4 * 72)
"""210 × 297 mm: ISO 216."""
POINT = 72
"""Points to the inch: ISO 32000-1, 8.3.2.3, default user space unit."""


def planned(prints: list[Print], **wishes: object) -> Plan:
    return plan_columns(prints, [one.id for one in prints], **wishes)


def written(path: Path, plan: Plan, prints: list[Print], **wishes: object) -> PdfReader:
    write_sheets(plan, prints, path, **wishes)
    return PdfReader(io.BytesIO(path.read_bytes()))


def text_of(reader: PdfReader) -> str:
    joined = " ".join(page.extract_text() for page in reader.pages)
    return " ".join(joined.replace("\u00a0", " ").split())


def inks_of(reader: PdfReader) -> list[Ink]:
    return [ink_of(page, reader) for page in reader.pages]


def check_ink(reader: PdfReader) -> None:
    """Nothing outside the margins, no type under 9 points, no words on words or on pictures."""
    for number, (page, ink) in enumerate(zip(reader.pages, inks_of(reader), strict=True), 1):
        width, height = (float(side) for side in page.mediabox.upper_right)
        for box in ink.boxes():
            assert box[0] >= 36, ("off the page", number, box)
            assert box[2] <= width - 36, ("off the page", number, box)
            assert box[1] >= 30, ("off the page", number, box)
            assert box[3] <= height - 30, ("off the page", number, box)
        for run in ink.runs:
            assert run.size >= 9, ("small type", number, run)
            assert not any(overlap(run.box, image) for image in ink.images), (number, run)
        for place, run in enumerate(ink.runs):
            for other in ink.runs[place + 1 :]:
                assert not overlap(run.box, other.box), ("words on words", number, run, other)
