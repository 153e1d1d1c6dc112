"""What is sewn is ticked on the sheets; prints that nobody named go by letter and colour."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from reportlab.platypus import Paragraph, Table

from sequencer import plan_columns
from sequencer.keys import key_letters
from sequencer.models import PaletteColour, Plan, Print
from sequencer.sheets.followed.addresses import addresses
from sequencer.sheets.followed.following import follow
from sequencer.sheets.followed.job import Job
from sequencer.sheets.pages.sets import sets
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.measure import Measure
from sequencer.sheets.paper.pictures import Gallery
from tests.made.sheets.made import made_prints


def made_job(plan: Plan, prints: list[Print], sewn: frozenset[int] = frozenset()) -> Job:
    known = {one.id: one for one in prints}
    keys = key_letters(plan.prints)
    return Job(plan, known, keys, Measure("in"), "letter", "Panel", None, None, (), follow(plan),
               Gallery(plan, known), addresses(plan, keys), sewn)


def _ticks(job: Job) -> list[tuple[str, bool]]:
    """Every box of the sets' pages with the words beside it, and whether it is ticked."""
    found: list[tuple[str, bool]] = []

    def walk(one: Any) -> None:
        if isinstance(one, Boxes):
            found.append(("", one.ticked))
        elif isinstance(one, Paragraph):
            if found and not found[-1][0]:
                found[-1] = one.getPlainText(), found[-1][1]
        elif isinstance(one, Table):
            for row in one._cellvalues:
                for cell in row:
                    walk(cell)
        elif isinstance(one, (list, tuple)):
            for part in one:
                walk(part)

    for section in sets(job):
        walk(section.content)
    return found


def test_what_is_sewn_is_ticked_on_the_sets_pages() -> None:
    prints = made_prints(4)
    plan = plan_columns(prints, [one.id for one in prints], size="8x6", set_length="9")
    assert len(plan.sets) > 1
    first = plan.sets[0].columns[0]
    job = made_job(plan, prints, sewn=frozenset({first}))
    ticks = _ticks(job)
    cells = {text: done for text, done in ticks if re.match(r"\d+: ", text)}
    assert [text for text, done in cells.items() if done] == [
        text for text in cells if text.startswith(f"{first}: ")]
    steps = [done for text, done in ticks if text.startswith("Sew the set")]
    assert steps == [True] + [False] * (len(plan.sets) - 1)
    assert not any(done for _, done in _ticks(made_job(plan, prints)))


def test_a_print_nobody_named_goes_by_its_letter_and_colour() -> None:
    palette = (PaletteColour((60.0, 30.0, 30.0), 1.0, "light orange"),)
    one, two = made_prints(2)
    prints = [replace(one, id="table-1", name="table-1", palette=palette),
              replace(two, id="table-11", name="", palette=palette)]  # fmt: skip
    plan = plan_columns(prints, ["table-1", "table-11"])
    job = made_job(plan, prints)
    assert [job.name(key) for key in plan.prints] == ["light orange"] * 2
    assert job.sentence("“table-11” after “table-1”") == "“B light orange” after “A light orange”"
    named = [replace(prints[0], name="Sand"), replace(prints[1], id="kelp", name="")]
    job = made_job(plan_columns(named, ["table-1", "kelp"]), named)
    assert [job.name(key) for key in ("table-1", "kelp")] == ["Sand", "kelp"]
