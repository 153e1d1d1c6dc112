"""Public calls are given what they cannot take: an error of ours, which says what it is about."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest
from PIL import Image

import sequencer
from sequencer.errors import PassalongError, SequenceError, UsageError
from sequencer.plan.asked import PlanWishes
from tests.made.cloths import random_cloths

PRINTS = random_cloths(4, 2, 1)
GRAPH = sequencer.transition_graph(PRINTS)
SEQUENCE = sequencer.find_sequence(GRAPH, loop=True)
PLAN = sequencer.plan_columns(PRINTS, SEQUENCE, size="6x5")
NEVER = [object(), np.array([1, 2]), [["a"]], {"a": None}, PRINTS]
"""What no argument takes that is not a list of prints."""


@pytest.fixture(scope="module")
def rightly(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("doors")
    Image.new("RGB", (60, 40), (200, 40, 40)).save(folder / "red.png")
    return {
        "read_photos": {"paths": [folder / "none.jpg"]},
        "colours_at": {"photo": folder / "red.png", "points": [(30, 20)]},
        "transition_graph": {"prints": PRINTS},
        "find_sequence": {"graph": GRAPH},
        "contrast": {"prints": PRINTS, "sequence": SEQUENCE},
        "plan_columns": {"prints": PRINTS, "seq": SEQUENCE, "size": "6x5"},
        "render": {"plan": PLAN, "prints": PRINTS, "ppi": 5},
        "write_sheets": {"plan": PLAN, "prints": PRINTS, "path": folder / "sheets.pdf"},
    }


def asked(call: Callable[..., Any]) -> list[str]:
    names = [one.name for one in inspect.signature(call).parameters.values()
             if one.kind is not inspect.Parameter.VAR_KEYWORD]
    wishes = [one.name for one in fields(PlanWishes)] if call is sequencer.plan_columns else []
    return list(dict.fromkeys(name for name in (*names, *wishes) if name != "whole"))


@pytest.mark.parametrize("name", sequencer.__all__)
def test_what_an_argument_never_takes_is_an_error_of_ours(
    name: str, rightly: dict[str, dict[str, Any]]
) -> None:
    call = getattr(sequencer, name)
    for argument in asked(call):
        for wrong in NEVER:
            if argument == "prints" and wrong is PRINTS:
                continue
            try:
                with suppress(PassalongError):
                    call(**{**rightly[name], argument: wrong})
            except Exception as error:
                pytest.fail(f"{name}({argument}={wrong!r}): {type(error).__name__}: {error}")


@pytest.mark.parametrize(("name", "argument", "wrong", "told"), [
    ("read_photos", "paths", None, "'paths' needs a list of photographs, not None."),
    ("read_photos", "paths", [3], "'paths' needs the path of a file, not 3."),
    ("read_photos", "paths", ["a\0b"], "'paths' needs the path of a file, not 'a.x00b'."),
    ("read_photos", "scale", 6, "'scale' needs a word, not 6."),
    ("read_photos", "reference", None, "'reference' needs a word, not None."),
    ("colours_at", "photo", None, "'photo' needs the path of a file, not None."),
    ("colours_at", "camera", None, "'camera' needs a word, not None."),
    ("transition_graph", "prints", None, "'prints' needs a list of prints, as read_photos gives "
                                         "them, not None."),
    ("transition_graph", "prints", ["moss"], "'prints' needs .*, not 'moss'."),
    ("find_sequence", "loop", "no", "'loop' needs True or False, not 'no'."),
    ("find_sequence", "alternatives", -1, "'alternatives' needs a whole number of 0 or more"),
    ("find_sequence", "prints", 3, "'prints' needs a list of prints"),
    ("contrast", "sequence", ["p0"], "'sequence' needs a sequence, as find_sequence gives it, not"),
    ("contrast", "graph", [], "'graph' needs the transition graph of these prints, not"),
    ("plan_columns", "prints", {}.values, "'prints' needs a list of prints"),
    ("plan_columns", "seq", None, "'seq' needs a sequence of prints, or a list of their ids, not"),
    ("plan_columns", "seq", [0, 1], "'seq' needs a sequence of prints, or a list of their ids"),
    ("plan_columns", "seed", None, "'seed' needs a whole number of 0 or more, not None."),
    ("plan_columns", "symmetric", "no", "'symmetric' needs True or False, not 'no'."),
    ("plan_columns", "seam", True, "Seam True is not a length."),
    ("plan_columns", "fitted", 3, "Fitted 3 is not a mapping from print to width."),
    ("render", "plan", None, "'plan' needs a plan, as plan_columns gives it, not None."),
    ("render", "ppi", "100", "'ppi' needs pixels an inch, a number above 0, not '100'."),
    ("render", "distance", 0, "'distance' needs inches, a number above 0, not 0."),
    ("write_sheets", "path", 3, "'path' needs the path of a file, not 3."),
    ("write_sheets", "title", 3, "'title' needs a word, not 3."),
    ("write_sheets", "report", "x", "'report' needs a report, as contrast gives it, not 'x'."),
    ("write_sheets", "photos", [3], "'photos' needs photographs as TablePhoto, not 3."),
])  # fmt: skip
def test_the_error_names_the_argument_and_what_it_needs(
    name: str, argument: str, wrong: Any, told: str, rightly: dict[str, dict[str, Any]]
) -> None:
    with pytest.raises(UsageError, match=told):
        getattr(sequencer, name)(**{**rightly[name], argument: wrong})
    assert not Path(rightly["write_sheets"]["path"]).exists()


def test_a_graph_or_prints_of_others_are_told() -> None:
    with pytest.raises(SequenceError, match="does not hold p0: make it of the same prints"):
        sequencer.contrast(PRINTS, SEQUENCE, nx.Graph())
    with pytest.raises(SequenceError, match="'prints' lacks p0, p1, p2, p3, which the order holds"):
        sequencer.find_sequence(GRAPH, prints=[])
