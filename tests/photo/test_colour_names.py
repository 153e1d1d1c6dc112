"""Plain names: the ranges are our own, so what is checked is that nobody would object."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.colour import plain_name, srgb8_to_lab


@pytest.mark.parametrize(
    ("pixel", "word"),
    [
        ((255, 255, 255), "white"), ((10, 10, 10), "black"), ((128, 128, 128), "grey"),
        ((220, 20, 30), "red"), ((245, 130, 20), "orange"), ((250, 230, 30), "yellow"),
        ((30, 140, 50), "green"), ((20, 128, 130), "blue-green"), ((30, 80, 190), "blue"),
        ((110, 50, 160), "violet"), ((150, 40, 150), "purple"), ((250, 170, 190), "pink"),
        ((120, 70, 30), "brown"), ((205, 175, 140), "tan"), ((245, 238, 215), "cream"),
        ((110, 110, 40), "olive"), ((0, 0, 110), "blue"),
    ],
)  # fmt: skip
def test_obvious_colours(pixel: tuple[int, int, int], word: str) -> None:
    assert word in plain_name(srgb8_to_lab(np.array(pixel, dtype=np.uint8)))


@given(st.lists(st.integers(0, 255), min_size=3, max_size=3))
def test_every_colour_has_a_short_name(levels: list[int]) -> None:
    name = plain_name(srgb8_to_lab(np.array(levels, dtype=np.uint8)))
    assert name
    assert name == name.strip().lower()
    assert len(name.split()) <= 4


def test_lightness_and_strength_are_said() -> None:
    assert plain_name([80, -15, -3]) == "light greyed blue-green"
    assert plain_name([30, 40, -55]).startswith("dark strong")
