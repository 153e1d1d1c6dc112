"""sequence.png: prints in order, their values, and how each meets the next."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw
from skimage.color import rgb2lab

from sequencer.errors import SheetError
from sequencer.models import Neighbours, PaletteColour, Print, Sequence, Swatch
from sequencer.rendering import sequence_picture
from sequencer.rendering.sequence import CLOTH_HEIGHT, MARGIN, NEXT_WIDTH, VALUE_HEIGHT, WIDTH

TOP = 168


def plain(key: str, colour: tuple[int, int, int], name: str = "") -> Print:
    pixels = np.full((60, 90, 3), colour, np.uint8)
    lab = tuple(float(v) for v in rgb2lab(pixels[:1, :1]).reshape(3))
    return Print(key, name or key, f"{key}.jpg", ((0, 0), (1, 0), (1, 1)), lab,
                 (PaletteColour(lab, 1.0),), swatch=Swatch(pixels, 30.0))  # fmt: skip


PRINTS = [plain(f"p{k}", (25 * k, 240 - 20 * k, 90 + 10 * k)) for k in range(8)]


def sequence(keys: list[str], loop: bool, **changes: object) -> Sequence:
    ends = [*keys[1:], keys[0]] if loop else keys[1:]
    pairs = tuple(
        Neighbours(a, b, 20.0, 12.0, -4.0, 0.3, "gentle")
        for a, b in zip(keys, ends, strict=False)
    )
    made = Sequence(tuple(keys), loop, "even", 1.0, 20.0, "optimal", 1.0, 0.0, pairs)
    return replace(made, **changes)


def centre_colours(
    picture: Image.Image, per_row: int, row: int, next_shown: bool
) -> list[np.ndarray]:
    cell = (WIDTH - 2 * MARGIN - (NEXT_WIDTH if next_shown else 0)) // per_row
    y = TOP + row * (CLOTH_HEIGHT + VALUE_HEIGHT + 268) + CLOTH_HEIGHT // 2
    return [np.array(picture.getpixel((MARGIN + cell * k + cell // 2, y))) for k in range(per_row)]


def test_prints_stand_in_order_and_wrap() -> None:
    keys = [cloth.id for cloth in reversed(PRINTS)]
    picture = sequence_picture(PRINTS, sequence(keys, loop=True))
    assert picture.width == WIDTH
    wanted = [np.array(cloth.swatch.pixels[0, 0]) for cloth in reversed(PRINTS)]
    found = [*centre_colours(picture, 4, 0, True), *centre_colours(picture, 4, 1, True)]
    for one, other in zip(found, wanted, strict=True):
        assert np.abs(one.astype(int) - other).max() <= 2


def test_a_loop_ends_with_a_piece_of_its_first_print() -> None:
    keys = ["p0", "p3", "p6"]
    x = WIDTH - MARGIN - NEXT_WIDTH + 30
    looped = sequence_picture(PRINTS, sequence(keys, loop=True))
    cell = (WIDTH - 2 * MARGIN - NEXT_WIDTH) // 3
    x = MARGIN + 3 * cell + 30
    assert np.abs(np.array(looped.getpixel((x, TOP + 100))).astype(int)
                  - PRINTS[0].swatch.pixels[0, 0]).max() <= 2  # fmt: skip
    opened = sequence_picture(PRINTS, sequence(keys, loop=False))
    last = np.array(opened.getpixel((WIDTH - MARGIN - 20, TOP + 100))).astype(int)
    assert np.abs(last - PRINTS[6].swatch.pixels[0, 0]).max() <= 2


def test_the_value_strip_has_each_prints_lightness() -> None:
    picture = sequence_picture(PRINTS, sequence(["p1", "p5"], loop=False))
    for x, cloth in ((MARGIN + 20, PRINTS[1]), (WIDTH - MARGIN - 20, PRINTS[5])):
        grey = np.array(picture.getpixel((x, TOP + CLOTH_HEIGHT + VALUE_HEIGHT // 2)), np.uint8)
        lab = rgb2lab(grey[None, None]).reshape(3)
        assert lab[0] == pytest.approx(cloth.value, abs=0.3)
        assert np.abs(lab[1:]).max() < 0.1


def below(picture: Image.Image, y: int) -> np.ndarray:
    """The band under the meeting of two prints alone in their row, from ``y`` under the values."""
    top = TOP + CLOTH_HEIGHT + VALUE_HEIGHT + y
    box = (WIDTH // 2 - 140, top, WIDTH // 2 + 140, top + 40)
    return np.asarray(picture.convert("L").crop(box))


def test_verdicts_that_want_attention_stand_out() -> None:
    longest, dark = {}, {}
    for verdict in ("blurs", "gentle", "clear", "jumps"):
        pair = Neighbours("p0", "p1", 20.0, 12.0, -4.0, 0.3, verdict)
        picture = sequence_picture(PRINTS, sequence(["p0", "p1"], False, neighbours=(pair,)))
        ink = below(picture, 100) < 100
        longest[verdict], dark[verdict] = int(ink.sum(axis=1).max()), int(ink.sum())
    assert dark["jumps"] > 2 * max(dark[other] for other in ("blurs", "gentle", "clear"))
    assert longest["blurs"] > 1.25 * max(longest["gentle"], longest["clear"])


def test_discs_lie_further_apart_the_more_it_costs() -> None:
    spans = []
    for cost in (0.0, 15.0, 30.0, 60.0, 500.0):
        pair = Neighbours("p2", "p6", cost, 12.0, -4.0, 0.3, "gentle")
        picture = sequence_picture(PRINTS, sequence(["p2", "p6"], False, neighbours=(pair,)))
        columns = np.flatnonzero((below(picture, 66)[10:26] < 235).any(axis=0))
        spans.append(int(columns[-1] - columns[0]))
    assert spans[:4] == sorted(set(spans[:4]))
    assert spans[4] == spans[3]


def test_figures_a_bare_graph_lacks_are_left_out() -> None:
    pair = Neighbours("p0", "p1", 3.0)
    assert sequence_picture(PRINTS, sequence(["p0", "p1"], False, neighbours=(pair,))).height > 600


@pytest.mark.parametrize("count", [1, 2, 5, 6, 11, 60])
@pytest.mark.parametrize("loop", [True, False])
def test_any_number_of_prints(count: int, loop: bool) -> None:
    prints = [
        replace(PRINTS[k % 8], id=f"q{k}", name="a very long name indeed, longer than a print")
        for k in range(count)
    ]
    picture = sequence_picture(prints, sequence([cloth.id for cloth in prints], loop and count > 1))
    rows = -(-count // 5)
    assert picture.size == (WIDTH, TOP + rows * (CLOTH_HEIGHT + VALUE_HEIGHT + 268) + 66)


def test_a_print_that_is_not_there_is_named() -> None:
    with pytest.raises(SheetError, match="nobody"):
        sequence_picture(PRINTS, sequence(["p0", "nobody"], False))
    with pytest.raises(SheetError, match="empty"):
        sequence_picture(PRINTS, sequence([], False, neighbours=()))


@pytest.mark.parametrize(("changes", "said"), [
    ({}, "no better order exists (proved)"),
    ({"confidence": {"trials": 40, "order": 0.6, "exact": True}},
     "proved for the measured colours; within their uncertainty it held in 6 of 10"),
    ({"confidence": {"trials": 33, "order": 0.31, "exact": False}, "status": "bounded",
      "gap": 0.035},
     "within 3.5 % of the best possible; within the colours’ uncertainty it held in about 3 of 10"),
    ({"status": "bounded", "gap": 0.02}, "within 2.0 % of the best possible"),
])
def test_picture_and_words_say_how_sure_alike(
    changes: dict[str, object], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[tuple[str, float]] = []
    draw = ImageDraw.ImageDraw.text

    def keep(pen: ImageDraw.ImageDraw, at: tuple[float, float], text: str, **how: Any) -> None:
        written.append((text, at[0] + how["font"].getlength(text)))
        draw(pen, at, text, **how)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", keep)
    found = sequence(["p0", "p3", "p6"], loop=True, **changes)
    sequence_picture(PRINTS, found)
    assert found.how_sure() == said
    assert written[1][0] == f"largest step 20.0   ·   {said}"
    assert written[1][1] <= WIDTH - MARGIN


def test_an_unnamed_print_goes_by_letter_and_colour() -> None:
    told = ("A teal", "table-2", "C plain")  # the second has a name that only looks like an id
    made = [replace(plain(f"table-{k}", (60 * k, 90, 120)), name=name)
            for k, name in enumerate(("table-1", told[1], told[2]), 1)]
    blue = replace(made[0], palette=(PaletteColour((45, -20, -15), 1.0, "teal"),))
    unnamed = [blue, replace(made[1], id="reef", name="table-2"), made[2]]
    named = [replace(one, name=name) for one, name in zip(unnamed, told, strict=True)]
    order = sequence([one.id for one in unnamed], True)
    assert np.array_equal(sequence_picture(unnamed, order), sequence_picture(named, order))
