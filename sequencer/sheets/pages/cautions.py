"""The usual cautions for blades, irons and needles.

Common practice of the sewing room, in our own words; no standard lists them. They give way to
what the makers of the tools and the rules of the place say.
"""

from __future__ import annotations

from reportlab.platypus import KeepTogether, Paragraph, Spacer

from sequencer.sheets.paper.layout import BODY, SUBHEADING, Story
from sequencer.sheets.paper.sections import bullets

FIRST = (
    "Blades, irons and needles hurt. Read and follow the instructions that came with your cutter, "
    "ruler, iron and machine, and the rules of the place where you work; where they say otherwise "
    "than this page, they are right. This page names the usual cautions and is not complete."
)
CAUTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Blades: rotary cutter, scissors, seam ripper",
        (
            "Close the blade each time you put the cutter down, and lock it for the night.",
            "Cut away from your body, on a mat made for it, on a firm table at standing height.",
            "Keep the fingers of the hand that holds the ruler well away from its cutting edge.",
            "Change a dull blade: it needs force, and force slips. Wrap old blades and dispose "
            "of them as your local rules say.",
            "Let a falling cutter fall. Do not reach for it.",
            "Point a seam ripper away from your hand and face; lift the stitch, do not push.",
        ),
    ),
    (
        "Iron and steam",
        (
            "Try heat and steam on a scrap of each print first: some cloths shrink, melt or "
            "let their dye run.",
            "Keep hands out of the steam. When you hold narrow strips for pressing, use a tool, "
            "not your fingertips.",
            "Stand the iron on its rest, its cord where nobody can catch it.",
            "Switch the iron off and unplug it whenever you leave it, and let it cool before "
            "you store it.",
        ),
    ),
    (
        "Needles, pins and the machine",
        (
            "Take your foot off the pedal, or switch the machine off, before you thread it, "
            "change the needle or clear a jam.",
            "Take pins out before the presser foot reaches them. A needle that hits a pin can "
            "break and fly: glasses protect your eyes.",
            "Go slowly over thick crossings, by the hand wheel if need be, and do not pull the "
            "cloth: that bends needles.",
            "Count your pins and needles out and in. Throw broken ones away in a closed tin.",
        ),
    ),
    (
        "The room",
        (
            "Keep children and pets away from the cutter, the iron, the machine and the pin box, "
            "also while you are out of the room.",
            "Work in good light, and stop when you are tired: most cuts happen late.",
            "Test before you trust: sew and measure a small trial of three strips before you "
            "cut into all of your cloth.",
        ),
    ),
)


def cautions() -> Story:
    """A few words that give way to the makers and the rules of the place, then the lists."""
    story: Story = [
        KeepTogether([Paragraph("Take care", SUBHEADING), Paragraph(FIRST, BODY), Spacer(0, 2)])
    ]
    for title, items in CAUTIONS:
        story += bullets(items, title)
    return story
