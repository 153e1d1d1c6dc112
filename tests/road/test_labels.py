"""What a print goes by: one name on page, sheets and terminal, and what is typed finds it again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sequencer.errors import PieceError
from sequencer.keeping.state import Piece
from sequencer.keys import colour_shares, labels, told
from sequencer.models import PaletteColour, Print
from tests.made.sheets.made import made_prints, made_sequence


def unnamed(one: Print, number: int) -> Print:
    palette = (PaletteColour((50, 0, 0), 0.4, "grey"), PaletteColour((40, -9, 30), 0.35, "olive"),
               PaletteColour((42, -9, 30), 0.25, "olive"))  # fmt: skip
    return replace(one, id=f"table-{number}", name=f"table-{number}", palette=palette)


@pytest.fixture
def prints() -> list[Print]:
    made = list(made_prints(4))
    return [unnamed(made[0], 1), unnamed(made[1], 12), *made[2:]]


def test_an_unnamed_print_goes_by_letter_and_commonest_colour(prints: list[Print]) -> None:
    assert list(colour_shares(prints[0])) == ["olive", "grey"]  # .6 of it in two shades
    called = labels(prints, [prints[2].id, "table-12", "table-1"])
    assert [called[one.id] for one in prints] == [
        "C olive", "B olive", prints[2].name, prints[3].name]  # fmt: skip
    assert labels([replace(prints[0], name="Kelp")], ()) == {"table-1": "Kelp"}
    assert labels([replace(prints[0], palette=())], ()) == {"table-1": "table-1"}


def test_sentences_take_the_label_and_no_part_of_another_id() -> None:
    called = {"table-1": "A olive", "table-12": "B grey"}
    assert told("table-12 meets C table-1, not table-123 or a-table-1.", called) == (
        "B grey meets A olive, not table-123 or a-table-1.")


def test_what_it_goes_by_can_be_typed(prints: list[Print]) -> None:
    piece = Piece(prints=tuple(prints), sequence=made_sequence(prints))
    for id_, label in piece.labels.items():
        assert piece.id_of(label) == piece.id_of(label.upper()) == id_
    with pytest.raises(PieceError, match="Z olive"):
        piece.id_of("Z olive")
