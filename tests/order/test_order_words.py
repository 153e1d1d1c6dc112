"""Every remark on 200 random boxes, read against the figures it is about."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import sequencer
from sequencer.colour.meeting import BLURS, meet, palettes_of
from sequencer.colour.names import plain_name, shade
from sequencer.errors import SequenceError
from sequencer.models import PaletteColour, Print, Sequence
from sequencer.order import find_sequence, transition_graph
from sequencer.order.words.advice import advise
from sequencer.order.words.hand_over import hand_over
from sequencer.ordering.reporting import meeting
from tests.made.cloths import cloth, plain_cloth


def box(seed: int) -> list[Print]:
    """4 to 10 cloths; some share grounds, some are nearly the one before, some stand alone."""
    random = np.random.default_rng(seed)
    grounds = random.normal((55, 0, 0), (18, 20, 20), (3, 3))
    prints: list[Print] = []
    for k in range(int(random.integers(4, 11))):
        ground = grounds[random.integers(3)] if random.random() < 0.7 else random.normal(
            (55, 0, 0), (20, 30, 30))
        labs = np.vstack([ground + random.normal(size=3) * 5,
                          random.normal((55, 0, 0), (20, 22, 22), (2, 3))])
        if prints and random.random() < 0.2:
            labs = np.array([c.lab for c in prints[-1].palette]) + random.normal(size=(3, 3)) * 2
        labs[:, 0] = labs[:, 0].clip(5, 98)
        shares = random.dirichlet([5, 2, 1])
        one = cloth(f"p{k}", *((tuple(lab), float(s)) for lab, s in zip(labs, shares, strict=True)))
        prints.append(replace(one, name=f"name{k}", uncertainty=float(random.uniform(0, 8))))
    return prints


def named(text: str) -> list[str]:
    return [f"p{k}" for k in re.findall(r"“name(\d+)”", text)]


@pytest.mark.parametrize("start", range(0, 200, 25))
def test_no_remark_contradicts_the_figures(start: int) -> None:
    for seed in range(start, start + 25):
        prints = box(seed)
        graph = transition_graph(prints)
        pick = len(prints) - 2 if seed % 3 == 0 and len(prints) > 5 else None
        found = find_sequence(graph, loop=bool(seed % 2), pick=pick, prints=prints)
        remarks = (*found.notes, *advise(graph, found, prints))
        report = sequencer.contrast(prints, found, graph)
        assert len(set(remarks)) == len(remarks)
        _check_remarks(found, remarks, by_id={one.id: one for one in prints})
        _check_report(found, report, prints)
        for text in (*remarks, *report.sentences, *(b["text"] for b in report.bridges)):
            assert not re.search(r"\be[+-]\d|nan|inf\b|\b0 wishes", text), text


def _check_remarks(found: Sequence, remarks: tuple[str, ...], by_id: dict[str, Print]) -> None:
    words = {frozenset((pair.a, pair.b)): pair.verdict for pair in found.neighbours}
    jumps = sum(pair.verdict == "jumps" for pair in found.neighbours)
    for text in remarks:
        if "No step is a jump" in text:
            assert jumps == 0
        if match := re.search(r"^(\d+) of (\d+) steps are jumps", text):
            assert (int(match[1]), int(match[2])) == (jumps, len(found.neighbours))
        if "Look-alikes side by side" in text:
            names = named(text)
            assert all(words[frozenset(pair)] == "blurs"
                       for pair in zip(names[::2], names[1::2], strict=True))
        if "jump wherever" in text or "jumps wherever" in text:
            assert not (found.left_out and "leave it out" in text)
            for name in named(text):
                assert all(word == "jumps" for pair, word in words.items() if name in pair)
        if "smoothest hand-over" in text:
            a, b = named(text)
            assert words[frozenset((a, b))] in ("gentle", "clear")
            assert hand_over(by_id[a], by_id[b])["shared"] > 0
        if "Not certain" in text:
            a, b = named(text)[:2]
            assert not next(p.certain for p in found.neighbours if {p.a, p.b} == {a, b})
    if match := re.search(r"uncertainty it held in (?:about )?(\d+) of 10", found.how_sure()):
        assert int(match[1]) == round(10 * found.confidence["order"])
    assert bool(match) == bool(found.confidence.get("trials"))


def _check_report(found: Sequence, report: sequencer.models.ContrastReport,
                  prints: list[Print]) -> None:
    words = {frozenset((pair.a, pair.b)): pair for pair in report.pairs}
    by_id = {one.id: one for one in prints}
    for text in report.sentences:
        names = named(text)
        if "will read as one strip" in text:
            assert words[frozenset(names[:2])].verdict == "blurs"
        if "is a jump" in text:
            assert words[frozenset(names[:2])].verdict == "jumps"
        if match := re.search(r"with (\d+)% of their colour shared", text):
            assert int(match[1]) == round(100 * (words[frozenset(names[:2])].shared or 0))
    jumps = [(pair.a, pair.b) for pair in report.pairs if pair.verdict == "jumps"]
    assert [(entry["a"], entry["b"]) for entry in report.bridges] == jumps
    for entry in report.bridges:
        if entry["look_for"] is not None:
            wanted = _bought(entry["look_for"])
            run = meet(palettes_of([wanted, by_id[entry["a"]], by_id[entry["b"]]]),
                       np.array([0, 0]), np.array([1, 2]))
            close = meet(palettes_of([by_id[entry["a"]], by_id[entry["b"]]]),
                         np.array([0]), np.array([1])).apart[0]
            assert (run.apart >= BLURS).all() or close < 2.5 * BLURS
    for told, pair in zip(report.hand_over, report.pairs, strict=True):
        if "no colour in common" in told["text"]:
            ours, theirs = ({plain_name(c.lab) for c in by_id[x].palette if c.share > 0.02}
                            for x in (pair.a, pair.b))
            assert not told["parts"]
            assert not ours & theirs


def test_two_prints_are_told_straight_from_the_graph() -> None:
    """Any two, neighbours or not; the same figures as in the whole report, and no palette read."""
    prints = box(5)
    by_id = {one.id: one for one in prints}
    graph = transition_graph(prints)
    sequence = find_sequence(graph, loop=True)
    report = sequencer.contrast(prints, sequence, graph)
    for pair, told in zip(report.pairs, report.hand_over, strict=True):
        one = meeting(graph, by_id[pair.a], by_id[pair.b])
        assert one == {**pair.to_json(), "hand_over": told}
        assert told == hand_over(by_id[pair.a], by_id[pair.b])
    brief = sequencer.contrast(prints, sequence, graph, whole=False)
    assert (brief.pairs, brief.sentences) == (report.pairs, report.sentences)
    assert (brief.bridges, brief.hand_over) == ((), ())
    with pytest.raises(SequenceError, match="There is no print called nobody"):
        meeting(graph, prints[0], replace(prints[1], id="nobody"))


def _bought(wanted: dict[str, object]) -> Print:
    palette = tuple(PaletteColour(tuple(c["lab"]), c["share"]) for c in wanted["palette"])  # type: ignore[attr-defined]
    mean = np.array([np.array(c.lab) * c.share for c in palette]).sum(axis=0)
    return Print("new", "new", "shop.jpg", (), tuple(mean), palette)


def test_two_dark_olives_are_not_called_the_same() -> None:
    a, b = plain_cloth("a", 24, -4, 20), plain_cloth("b", 33, -4, 22)
    assert plain_name(a.mean_lab) == plain_name(b.mean_lab) == "dark olive"
    assert shade(a.mean_lab, b.mean_lab) == "a lighter dark olive"
    told = hand_over(a, b)["text"]
    assert "a lighter dark olive" in told
    assert "in both" not in told


def test_a_print_without_a_companion_is_told_before_it_is_picked() -> None:
    kin = [cloth(f"k{k}", ((50.0, -25.0 + 6 * k, -8.0), 0.6), ((75.0, 8.0, 55.0 - 5 * k), 0.4))
           for k in range(6)]
    stranger = plain_cloth("stranger", 30.0, 50.0, -60.0)
    graph = transition_graph([*kin, stranger])
    found = find_sequence(graph, pick=5)
    assert "stranger" not in found.order
    assert any("stranger has no companion" in note for note in found.notes)
    wished = find_sequence(graph, pick=5, include=["stranger"])
    assert "stranger" in wished.order
    assert not any("no companion" in note for note in wished.notes)
