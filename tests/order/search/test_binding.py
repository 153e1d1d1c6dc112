"""What a limit is said to cost: true by a second search without that limit."""

from __future__ import annotations

import re

import pytest

from sequencer.order import find_sequence, transition_graph
from sequencer.order.sizes import plain_number
from tests.made.cloths import random_cloths

_SAID = re.compile(r"Keeping (.+) costs something here: the (.+) is (.+), without that limit it "
                   r"could be (.+)\.")
_FIGURES = {"even": "total", "total": "total", "worst": "largest step"}
_OFF = {"neighbours distinct enough": "distinct", "enough value range": "value_range"}


@pytest.mark.parametrize("aim", ["even", "total", "worst"])
def test_what_a_limit_costs_is_told_in_the_figure_that_is_made_least(aim: str) -> None:
    told = 0
    for seed in range(700, 716):
        graph = transition_graph(random_cloths(14, 3, seed))
        found = find_sequence(graph, loop=True, pick=6, aim=aim)
        said = [_SAID.fullmatch(note) for note in found.notes if note.startswith("Keeping")]
        eased = any("eased" in note for note in found.notes)
        for words, figure, own, least in (one.groups() for one in said if one):
            assert figure == _FIGURES[aim]
            assert own == plain_number(found.worst if aim == "worst" else found.total)
            assert float(least.replace(",", "")) < float(own.replace(",", ""))
            if not eased:
                free = find_sequence(graph, loop=True, pick=6, aim=aim, **{_OFF[words]: 0.0})
                best = free.worst if aim == "worst" else free.total
                assert float(plain_number(best).replace(",", "")) <= float(least.replace(",", ""))
            told += 1
    assert told > 1
