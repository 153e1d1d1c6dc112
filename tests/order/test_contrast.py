"""The contrast report: verdicts, sentences, colour-blind eyes, colours that look lighter."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.colour import srgb8_to_lab, strip_units
from sequencer.colour.meeting import BLURS, Meetings
from sequencer.colour.verdicts import (
    CLEAR,
    JUMP_CEILING,
    JUMP_FLOOR,
    STRANGERS,
    jump_threshold,
    verdicts,
)
from sequencer.colour.vision import KINDS, simulate, simulate_lab, simulation_matrix
from sequencer.contrasts import contrast, looks_lighter_by
from sequencer.errors import SequenceError
from sequencer.models import Neighbours, Sequence
from sequencer.order import transition_graph
from tests.made.cloths import cloth, plain_cloth, sequence_of

TEAL, HARBOUR, GOLD = (50.0, -25.0, -8.0), (52.0, -22.0, -11.0), (78.0, 8.0, 60.0)


def report_on(*prints, order=None, loop=False):
    graph = transition_graph(prints)
    return contrast(prints, sequence_of(graph, order or [one.id for one in prints], loop))


# ── verdicts ──────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("apart", "cost", "means", "word"), [
    (11.6, 21, 11, "blurs"), (11.8, 21, 11, "gentle"), (23.3, 20, 20, "gentle"),
    (CLEAR, 20, 20, "clear"), (40, 29.9, 20, "clear"), (40, 30, 20, "jumps"),
    (STRANGERS, 30, BLURS, "jumps"), (STRANGERS - 0.1, 30, BLURS, "clear"),
    (STRANGERS, 30, BLURS - 0.1, "clear"), (CLEAR - 0.1, 30, 20, "gentle"),
])  # fmt: skip
def test_the_word_follows_how_far_apart_and_how_dear(apart, cost, means, word):
    figures = {name: np.zeros(1) for name in Meetings.__dataclass_fields__}
    met = Meetings(**{**figures, "apart": np.array([apart]), "cost": np.array([cost]),
                      "means": np.array([means])})
    assert verdicts(met, 30) == [word]


def test_blur_threshold_is_what_half_the_people_can_part_at_a_third_of_a_degree():
    """Stone, Albers Szafir, Setlur (2014): noticeable L* difference 5.079 + 0.751 / degrees, a*
    5.339 + 1.541, b* 5.349 + 2.871; a quarter-inch strip at 43 in subtends a third of a degree.
    L* sets the limit; a* and b*, from grey, lie within half of it above."""
    degrees = np.degrees(2 * np.arctan(0.25 / 2 / 43))
    assert degrees == pytest.approx(1 / 3, abs=0.002)
    seen = [np.eye(3)[k] * (base + slope / degrees) for k, (base, slope) in enumerate(
        [(5.079, 0.751), (5.339, 1.541), (5.349, 2.871)])]
    units = strip_units([50, 0, 0], np.array([50, 0, 0]) + np.array(seen))
    assert units[0] == pytest.approx(BLURS, rel=0.06)
    assert (units[1:] >= BLURS).all()
    assert (units[1:] < 1.8 * BLURS).all()


def test_jump_threshold_follows_the_box_within_limits():
    assert jump_threshold([12, 12, 12]) == 24
    assert jump_threshold([2, 2, 2]) == JUMP_FLOOR
    assert jump_threshold([50, 50]) == JUMP_CEILING
    assert jump_threshold([]) == JUMP_CEILING


def test_a_step_without_a_common_colour_is_a_jump_in_every_box():
    graph = transition_graph([plain_cloth("a", *TEAL), plain_cloth("b", *GOLD)])
    assert graph.edges["a", "b"]["shared"] == 0
    assert graph.edges["a", "b"]["cost"] >= JUMP_CEILING


def test_a_motif_larger_than_the_strip_is_told_apart_from_an_even_print():
    plain, checks = plain_cloth("a", *TEAL), replace(plain_cloth("b", *HARBOUR), spread=12.0)
    words = {
        spread: transition_graph([replace(plain, spread=spread), checks]).edges["a", "b"]["verdict"]
        for spread in (None, 0.5, 11.0)
    }
    assert words == {None: "blurs", 0.5: "blurs", 11.0: "blurs"}  # plain palettes: no motif seen

    motif = cloth("b", ((70.0, -25.0, -8.0), 0.5), ((30.0, -25.0, -8.0), 0.5))
    words = {
        spread: transition_graph([plain, replace(motif, spread=spread)]).edges["a", "b"]["verdict"]
        for spread in (None, 0.5, 11.0)
    }
    assert words == {None: "clear", 0.5: "blurs", 11.0: "gentle"}


# ── the report ────────────────────────────────────────────────────────────────────────────


def test_look_alikes_are_told_in_a_quilter_s_words():
    report = report_on(plain_cloth("a", *TEAL), plain_cloth("b", *HARBOUR))
    assert [pair.verdict for pair in report.pairs] == ["blurs"]
    assert report.sentences[0].startswith(
        "From across the room “a cloth” and “b cloth” will read as one strip")
    assert "“b cloth” is lighter by only 2 of 100" in report.sentences[0]


def test_a_print_in_the_box_that_parts_look_alikes_is_named_only_if_it_does_not_jump():
    alike = cloth("a", (TEAL, 0.7), (GOLD, 0.3)), cloth("b", (HARBOUR, 0.7), (GOLD, 0.3))
    parts = cloth("c", (GOLD, 0.75), (TEAL, 0.25))
    stranger = plain_cloth("d", 30.0, 40.0, 20.0)
    named = report_on(*alike, parts, stranger, order=["a", "b"]).sentences[0]
    assert "Put “c cloth” between them" in named
    alone = report_on(*alike, stranger, order=["a", "b"]).sentences[0]
    assert "Put a lighter or darker print between them" in alone


def test_a_jump_names_the_print_that_bridges_it():
    teal, gold = cloth("a", (TEAL, 1.0)), cloth("b", (GOLD, 1.0))
    between = cloth("c", (TEAL, 0.5), (GOLD, 0.5))
    with_box = report_on(teal, gold, between, order=["a", "b"])
    assert with_box.pairs[0].verdict == "jumps"
    assert "“c cloth”, still in the box, would bridge it" in with_box.sentences[0]
    assert "“b cloth” is lighter by 28 of 100" in with_box.sentences[0]
    assert "a colour of each would bridge it" in report_on(teal, gold).sentences[0]


def test_pairs_come_in_sewing_order_and_a_loop_closes_last():
    report = report_on(*(plain_cloth(n, L, 0.0, 0.0) for n, L in zip("abc", (20, 50, 80),
                                                                  strict=True)), loop=True)
    assert [(p.a, p.b) for p in report.pairs] == [("a", "b"), ("b", "c"), ("c", "a")]
    assert [p.value_step for p in report.pairs] == [30, 30, -60]
    assert report.value_range == 60


def test_figures_a_bare_graph_does_not_carry_are_worked_out():
    prints = [plain_cloth("a", *TEAL), cloth("b", (GOLD, 0.6), (TEAL, 0.4))]
    full = report_on(*prints)
    bare = Sequence(("a", "b"), False, "even", 9.0, 3.0, "optimal", 9.0, 0.0,
                    (Neighbours("a", "b", 3.0),))
    found = contrast(prints, bare).pairs[0]
    assert found.cost == 3.0
    assert found.delta_e == full.pairs[0].delta_e
    assert found.value_step == full.pairs[0].value_step
    assert found.shared == full.pairs[0].shared
    assert found.verdict is not None


def test_unknown_prints_are_named():
    graph = transition_graph([plain_cloth("a", *TEAL), plain_cloth("b", *GOLD)])
    with pytest.raises(SequenceError, match="the sequence names b"):
        contrast([plain_cloth("a", *TEAL)], sequence_of(graph, ["a", "b"]))


def test_report_is_json_and_one_print_has_no_pairs():
    document = json.loads(json.dumps(report_on(plain_cloth("a", *TEAL),
                                               plain_cloth("b", *GOLD)).to_json()))
    assert document["schema"] == "passalong.contrast/1"
    assert set(document["vision"]) == set(KINDS)
    assert document["vision"]["protan"][0]["delta_e"] > 0
    alone = report_on(plain_cloth("a", *TEAL))
    assert alone.pairs == ()
    assert alone.value_range == 0


# ── colours that look lighter ─────────────────────────────────────────────────────────────


def test_strong_colours_look_lighter_as_fairchild_and_pirrotta_say():
    """L** = L* + (2.5 − 0.025 L*)(0.116 |sin((h − 90)/2)| + 0.085) C*, worked by hand for hue
    angles where the sine is 0, 1 and √½ (formula: Color Res. Appl. 16, 1991)."""
    assert looks_lighter_by((60.0, 0.0, 50.0)) == pytest.approx((2.5 - 1.5) * 0.085 * 50)
    assert looks_lighter_by((40.0, 0.0, -40.0)) == pytest.approx(1.5 * (0.116 + 0.085) * 40)
    assert looks_lighter_by((40.0, 40.0, 0.0)) == pytest.approx(
        1.5 * (0.116 * 0.5**0.5 + 0.085) * 40)
    assert looks_lighter_by((50.0, 0.0, 0.0)) == 0


def test_nayatani_ranks_them_alike():
    """A second model, Nayatani (1997), from the colour-science package: the same colours look
    lightest for what they are. The two disagree on some hues: Spearman's rank correlation over hues
    and chromas is 0.76."""
    import colour
    from scipy.stats import spearmanr

    labs = np.array([[50.0, c * np.cos(h), c * np.sin(h)]
                     for h in np.radians(np.arange(0, 360, 30)) for c in (15, 30, 45)])
    white = colour.xy_to_Luv_uv([0.3127, 0.3290])
    chromaticity = colour.Luv_to_uv(colour.XYZ_to_Luv(colour.Lab_to_XYZ(labs)))
    theirs = colour.HelmholtzKohlrausch_effect_object_Nayatani1997(
        chromaticity, white, 63.66, method="VCC")
    ours = [looks_lighter_by(tuple(lab)) for lab in labs]
    assert spearmanr(ours, theirs).statistic > 0.7


def test_a_strong_colour_is_said_beside_its_value():
    violet, grey = plain_cloth("violet", 30.0, 50.0, -60.0), plain_cloth("grey", 60.0, 0.0, 0.0)
    report = report_on(violet, grey)
    assert set(report.looks_lighter) == {"violet"}
    assert any("“violet cloth” is a strong colour" in s for s in report.sentences)


# ── colour-blind eyes ─────────────────────────────────────────────────────────────────────


def test_matrices_are_the_published_ones():
    """Machado, Oliveira, Fernandes (2009), severity 1.0, as tabled in the colour-science
    package."""
    import colour.blindness

    published = colour.blindness.CVD_MATRICES_MACHADO2010
    names = {"protan": "Protanomaly", "deutan": "Deuteranomaly", "tritan": "Tritanomaly"}
    for kind in KINDS:
        assert simulation_matrix(kind) == pytest.approx(published[names[kind]][1.0], abs=1e-6)


@given(st.floats(0, 1), st.sampled_from(KINDS), st.floats(0, 1))
@settings(max_examples=50)
def test_greys_stay_grey_and_severity_nought_changes_nothing(grey, kind, severity):
    assert simulate([grey] * 3, kind, severity) == pytest.approx([grey] * 3, abs=2e-6)
    colour = [grey, 0.3, 0.7]
    assert simulate(colour, kind, 0.0) == pytest.approx(colour)


def test_simulation_keeps_shape_and_dtype_and_refuses_nonsense():
    pixels = np.full((4, 5, 3), 0.5, dtype=np.float32)
    assert simulate(pixels, "deutan").dtype == np.float32
    assert simulate(pixels, "deutan").shape == (4, 5, 3)
    with pytest.raises(ValueError, match="kind"):
        simulate(pixels, "mono")
    with pytest.raises(ValueError, match="severity"):
        simulate(pixels, "protan", 1.5)


def test_red_and_green_of_one_value_run_together_for_deutan_eyes_only():
    red, green = srgb8_to_lab(np.array([[190, 90, 60], [130, 125, 60]], dtype=np.uint8))
    seen = simulate_lab([red, green], "deutan")
    assert np.linalg.norm(seen[0] - seen[1]) < 0.5 * np.linalg.norm(red - green)
    report = report_on(
        plain_cloth("red", 55.0, 28.0, 32.0), plain_cloth("green", 55.0, -12.0, 36.0))
    assert report.pairs[0].verdict != "blurs"
    blurs = {kind: report.vision[kind][0]["blurs"] for kind in KINDS}
    assert blurs["deutan"]
    assert not blurs["tritan"]
    assert any("green-blind (deutan)" in s and "run together" in s for s in report.sentences)
