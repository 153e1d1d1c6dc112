"""Photos that share prints, proved or told, agree; photos that share none are left alone.

Prints are palettes of published reflectances seen by two cameras under two lamps with wrong white
balances (``simulator.bare``), with the small errors that reading a palette makes. Pictures of them
are in ``benchmarks/photo/agreement.py``.
"""

from dataclasses import replace

import numpy as np
import pytest

from sequencer.colour import ciede2000, lab_to_xyz, linear_to_xyz, xyz_to_lab
from sequencer.models import PaletteColour
from sequencer.photo.agreement.agree import Agreement, PhotoColours, agree, no_texture
from sequencer.photo.agreement.texture import texture
from sequencer.photo.agreement.ties import gains_matrix, tie
from tests.made import simulator
from tests.made.motifs import flowers, shot

Palette = tuple[PaletteColour, ...]
Print = tuple[np.ndarray, np.ndarray]  # reflectances (n, 31), shares (n,)


def some_print(rng: np.random.Generator, count: int | None = None) -> Print:
    count = count or int(rng.choice([1, 2, 3, 4, 5], p=(0.15, 0.25, 0.3, 0.2, 0.1)))
    inks = np.clip(np.stack([simulator._ink(rng) for _ in range(count)]), 0.02, 0.95)
    return inks, np.sort(rng.dirichlet(np.full(count, 3.0)))[::-1]


def photographed(rng: np.random.Generator, prints: list[Print], white: bool) -> list[Palette]:
    """The prints' palettes in one photo; with ``white`` seen as a reference would have them."""
    lamp, camera = rng.choice(simulator.ILLUMINANTS), rng.choice(simulator.CAMERAS)
    inks = np.concatenate([one[0] for one in prints])
    if white:
        lab = xyz_to_lab(simulator.true_xyz(inks)) + rng.normal(0, 1.5, (len(inks), 3))
    else:
        linear = simulator.bare(rng, inks, lamp, camera, simulator.USUAL_PHONE)
        linear = linear * rng.uniform(0.6, 1.3) / max(float(linear.max()), 1.0)
        lab = xyz_to_lab(np.maximum(linear_to_xyz(linear), 1e-4))
    lab = lab + rng.normal(0, 0.6, lab.shape)
    out, at = [], 0
    for own, shares in prints:
        seen = np.maximum(shares + rng.normal(0, 0.03, len(shares)), 0.01)
        part, at = lab[at : at + len(own)], at + len(own)
        out.append(tuple(
            PaletteColour((float(c[0]), float(c[1]), float(c[2])), float(s / seen.sum()))
            for c, s in zip(part, seen, strict=True)
        ))  # fmt: skip
    return out


def means(palettes: list[Palette]) -> np.ndarray:
    return np.array([np.average([c.lab for c in one], axis=0, weights=[c.share for c in one])
                     for one in palettes])  # fmt: skip


def gap(first: Agreement, second: Agreement, one: list[Palette], other: list[Palette]) -> float:
    return float(ciede2000(first.moved(means(one)), second.moved(means(other))).mean())


def photos(*palettes: list[Palette], kinds: tuple[str, ...]) -> list[PhotoColours]:
    return [
        PhotoColours(f"{name}.jpg", kind, 15.5 if kind == "none" else 7.0, tuple(one))
        for name, kind, one in zip("abcdef", kinds, palettes, strict=False)
    ]


def said(*pairs: tuple[tuple[int, int], tuple[int, int]]) -> dict[frozenset, bool]:
    return {frozenset(pair): True for pair in pairs}


def common_ones(count: int, first: int = 0, second: int = 1) -> dict[frozenset, bool]:
    """The first prints of two photos are the same ones."""
    return said(*(((first, k), (second, k)) for k in range(count)))


def test_prints_said_to_be_shared_make_photos_agree() -> None:
    """The gains of what is shared bring it together: three prints closer than one."""
    for shared, closer in ((1, 0.35), (2, 0.45), (3, 0.5)):
        before, after = [], []
        for seed in range(40):
            rng = np.random.default_rng([seed, shared])
            common = [some_print(rng) for _ in range(shared)]
            lists = [
                photographed(rng, [*common, *(some_print(rng) for _ in range(3))], white)
                for white in (True, False)
            ]
            turn = -1 if seed % 2 else 1  # the order of the photos is all the same
            told = agree(
                photos(*lists[::turn], kinds=("sheet", "none")[::turn]), told=common_ones(shared)
            )[::turn]
            assert told[0].matrix is None
            assert told[1].matrix is not None
            first, second = (one[:shared] for one in lists)
            before.append(float(ciede2000(means(first), means(second)).mean()))
            after.append(gap(told[0], told[1], first, second))
        assert np.median(before) > 7
        assert np.median(after) < closer * np.median(before)


def test_palettes_alone_never_tie() -> None:
    """Not even one palette with itself: a print that hands its colours on looks like the next."""
    rng = np.random.default_rng(11)
    seen = [photographed(rng, [some_print(rng) for _ in range(4)], False) for _ in range(12)]
    told = agree(photos(*seen[:6], kinds=("none",) * 6))
    assert all(one.matrix is None for one in told)
    assert tie(seen[0], seen[0], (0, 1), no_texture, {}) is None


def test_the_word_different_breaks_a_proof() -> None:
    rng = np.random.default_rng(12)
    motif = texture(shot(flowers(3), 3))
    cloth = photographed(rng, [some_print(rng, 3)], True)
    two = photos(cloth, cloth, kinds=("sheet", "none"))
    assert agree(two, lambda find: motif)[1].matrix is not None
    no = {frozenset({(0, 0), (1, 0)}): False}
    assert agree(two, lambda find: motif, no)[1].matrix is None
    alone = [two[0], replace(two[1], alone=True)]
    assert agree(alone, lambda find: motif)[1].matrix is None
    assert agree(alone, lambda find: motif, common_ones(1))[1].matrix is not None


def test_one_motif_in_another_colourway_is_not_taken_for_another_light() -> None:
    """Texture proves it, gains bring it on, but no photo is that far off: she may say 'same'."""
    rng = np.random.default_rng(12)
    motif = texture(shot(flowers(3), 3))
    cloth = photographed(rng, [some_print(rng, 3), some_print(rng, 2)], True)

    def under(gains: tuple[float, float, float]) -> list[Palette]:
        matrix = gains_matrix(np.array(gains))
        return [tuple(
            replace(c, lab=tuple(xyz_to_lab(lab_to_xyz(np.array(c.lab)) @ matrix.T).tolist()))
            for c in palette) for palette in cloth]  # fmt: skip

    light, dyed = (photos(cloth, under(gains), kinds=("sheet", "none"))
                   for gains in ((0.2, 0.0, -0.3), (-1.5, -1.0, -0.3)))  # fmt: skip
    assert agree(light, lambda find: motif)[1].matrix is not None
    left = agree(dyed, lambda find: motif)[1]
    assert left.matrix is None
    assert any("say which prints are the same cloth" in note for note in left.warnings)
    assert agree(dyed, lambda find: motif, common_ones(1))[1].matrix is not None


def strong_print(first: int) -> Print:
    """Five dyes, each as far as can be from those before."""
    lab = xyz_to_lab(simulator.true_xyz(np.clip(simulator.dyes(), 0.02, 0.95)))
    chosen = [first]
    while len(chosen) < 5:
        chosen.append(int(np.argmax(ciede2000(lab[:, None], lab[chosen]).min(axis=1))))
    return simulator.dyes()[chosen], np.array([0.35, 0.25, 0.2, 0.12, 0.08])


def test_a_colour_seen_as_two_still_ties() -> None:
    """Palettes of unequal size: in one photo an accent is missing and a ground is split."""
    rng = np.random.default_rng(5)
    cloth = some_print(rng, 5)
    (whole,), (seen,) = (photographed(rng, [cloth], white) for white in (True, False))
    light = seen[0].lab
    split = (
        PaletteColour(light, seen[0].share / 2),
        PaletteColour((light[0] + 2, light[1], light[2]), seen[0].share / 2),
        *seen[1:4],
    )
    found = tie([split], [whole], (0, 1), no_texture, common_ones(1))
    assert found is not None
    assert found.prints == ((0, 0),)


def test_photos_without_a_reference_agree_with_each_other_alone() -> None:
    rng = np.random.default_rng(8)
    common = [some_print(rng, 4), some_print(rng, 3)]
    one, other = (photographed(rng, common, False) for _ in range(2))
    apart = photographed(rng, [some_print(rng, 1)], False)
    three = photos(one, other, apart, kinds=("none",) * 3)
    first, second, third = agree(three, told=common_ones(2))
    assert gap(first, second, one, other) < 0.5 * float(ciede2000(means(one), means(other)).mean())
    assert first.uncertainty == second.uncertainty == 15.5
    assert first.warnings == (
        "its colours agree with those of b.jpg, where the same print shows, not with the other "
        "photos'; none of these photos has a reference",
    )
    assert first.matrix is not None
    assert second.matrix is not None
    assert np.linalg.det(first.matrix) * np.linalg.det(second.matrix) == pytest.approx(1)
    assert third.matrix is None
    assert "nothing ties" in third.warnings[0]


def test_photos_with_references_stay_as_they_are() -> None:
    rng = np.random.default_rng(9)
    common = [some_print(rng, 4)]
    lists = [photographed(rng, common, white) for white in (True, False)]
    told = agree(photos(*lists, kinds=("sheet", "grey")), told=common_ones(1))
    assert [one.matrix for one in told] == [None, None]
    assert [one.warnings for one in told] == [(), ()]


def test_each_step_is_less_certain_and_none_worse_than_no_reference() -> None:
    rng = np.random.default_rng(10)
    links = [strong_print(first) for first in (0, 40, 80)]
    lists = [
        photographed(rng, prints, k == 0)
        for k, prints in enumerate([links[:1], links[:2], links[1:], links[2:]])
    ]
    chain = said(((0, 0), (1, 0)), ((1, 1), (2, 0)), ((2, 1), (3, 0)))
    told = agree(photos(*lists, kinds=("target", "none", "none", "none")), told=chain)
    stated = [one.uncertainty for one in told]
    assert stated == sorted(stated)
    assert 7 < stated[1] < stated[2] < stated[3] <= 15.5
    assert [one.through for one in told] == [None, "a.jpg", "b.jpg", "c.jpg"]


def test_stated_uncertainty_holds_after_a_tie() -> None:
    """Nine colours in ten of photos that borrowed lie within what is stated."""
    within = []
    for seed in range(60):
        rng = np.random.default_rng([seed, 12])
        common = [some_print(rng) for _ in range(3)]
        truth = [tuple(PaletteColour(tuple(c), float(s)) for c, s in
                       zip(xyz_to_lab(simulator.true_xyz(inks)), shares, strict=True))
                 for inks, shares in common]  # fmt: skip
        lists = [photographed(rng, common, white) for white in (True, False)]
        told = agree(photos(*lists, kinds=("sheet", "none")), told=common_ones(3))[1]
        errors = ciede2000(told.moved(means(lists[1])), means(truth))
        within += (errors <= told.uncertainty).tolist()
    assert len(within) == 180
    assert np.mean(within) > 0.88


def test_gains_matrix_is_bradford_and_exposure() -> None:
    """Gains of one exposure change nothing but Y; opposite gains undo each other."""
    assert gains_matrix(np.full(3, np.log(2))) == pytest.approx(2 * np.eye(3))
    gains = np.array([0.2, -0.1, 0.3])
    assert gains_matrix(gains) @ gains_matrix(-gains) == pytest.approx(np.eye(3))


def test_odd_palettes_never_fail() -> None:
    black = (PaletteColour((0.0, 0.0, 0.0), 1.0),)
    many = tuple(PaletteColour((10.0 * k, 5.0 * k, -4.0 * k), 0.1) for k in range(10))
    assert tie([], [black], (0, 1), no_texture, {}) is None
    assert tie([black], [black], (0, 1), no_texture, {}) is None
    assert tie([many, black], [black, many], (0, 1), no_texture, common_ones(2)) is not None
