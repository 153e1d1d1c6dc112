from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer import inches
from sequencer.errors import UsageError


@pytest.mark.parametrize(("text", "length"), [
    ("1/4", F(1, 4)), ("2 1/2", F(5, 2)), ("2-1/2", F(5, 2)), ("2.5", F(5, 2)), (".1", F(1, 10)),
    ("2½", F(5, 2)), ("¼", F(1, 4)), ("3 in", F(3)), ('3"', F(3)), ("25.4mm", F(1)),
    ("2,54 cm", F(1)), ("1 yd", F(36)), ("-1/8", F(-1, 8)), (3, F(3)), (0.1, F(1, 10)),
])
def test_reads_what_people_write(text, length):
    assert inches.parse_length(text) == length


@pytest.mark.parametrize(("text", "words"), [
    ("", "is not a length"), ("x", "is not a length"), ("1/0", "divides by zero"),
    ("1//2", "is not a length"), ("--1", "is not a length"), ("nan", "is not a length"),
    ("1e9", "is not a length"), ("9" * 30, "longer than any quilt"), ("1 2 3", "is not a length"),
])  # fmt: skip
def test_refuses_nonsense(text, words):
    with pytest.raises(UsageError, match=f"^'{text}' .*{words}"):
        inches.parse_length(text)


@given(st.fractions(min_value=-1000, max_value=1000, max_denominator=64))
def test_printing_and_reading_round_trip(length):
    assert inches.parse_length(inches.show_inches(length)) == length


@given(st.fractions(min_value=0, max_value=1000), st.sampled_from([F(1, 8), F(1, 16), F(5, 127)]))
def test_rounding_brackets_the_length(length, grid):
    low, high = inches.round_down(length, grid), inches.round_up(length, grid)
    assert low <= length <= high
    assert high - low in (0, grid)
    assert inches.on_grid(low, grid)


def test_sizes_share_a_trailing_unit():
    assert inches.parse_size("8x10") == (8, 10)
    assert inches.parse_size("25.4 x 50.8 mm") == (1, 2)
    assert inches.parse_size("12 1/2 × 9") == (F(25, 2), 9)
    for bad, words in (("8", "is not a size. Write"), ("8x", "'' is not a length"),
                       ("0x3", "more than zero"), ("8x10x2", "is not a size. Write"),
                       ("-1x2", "more than zero")):  # fmt: skip
        with pytest.raises(UsageError, match=words):
            inches.parse_size(bad)


def test_centimetres_round_half_up():
    assert inches.show_cm(F(1, 4)) == "0.64"  # 0.635
    assert inches.show_length(F(1), "cm") == "2.54 cm"
    assert inches.show_length(F(5, 2)) == "2 1/2 in"
    assert inches.show_cm(F(100)) == "254"
