"""One motif in two photos is proved, another never; figures that all cloth shares prove nothing."""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sequencer.photo.agreement.texture import kinds, likeness, same_motif, texture
from sequencer.reading.photos import read
from tests.made.motifs import flowers, regular, shot


def two_shots(cloth: np.ndarray, seed: int):
    return texture(shot(cloth, 2 * seed)), texture(shot(cloth, 2 * seed + 1))


def test_one_motif_is_proved_in_two_lights_turned_and_at_another_distance() -> None:
    proved = sum(same_motif(*two_shots(flowers(seed), seed)) for seed in range(8))
    assert proved >= 7


def test_different_motifs_are_never_proved() -> None:
    seen = [texture(shot(flowers(seed), seed)) for seed in range(9)]
    assert all(kinds(one) >= 30 for one in seen)
    alike = [likeness(one, other) for one, other in combinations(seen, 2)]
    assert max(alike) < 0.45  # 0.55 is what counts as proof


@pytest.mark.parametrize("kind", ["dots", "stripes", "check", "solid"])
def test_regular_figures_prove_nothing(kind: str) -> None:
    assert not same_motif(*two_shots(regular(kind), 3))


def test_tiny_and_empty_swatches_are_no_error() -> None:
    for pixels in (np.zeros((3, 40, 3), np.uint8), np.full((300, 300, 3), 255, np.uint8)):
        assert not same_motif(texture(pixels), texture(pixels))


def test_reading_together_is_reading_alone_where_nothing_is_shared(tmp_path: Path) -> None:
    """Prints in a series hand their colours on: one motif in each, the same inks in turn."""
    paths = []
    for k, kind in enumerate(("dots", "check", "stripes")):
        picture = regular(kind, 30 + 9 * k) // 2 + np.uint8(20 * k)
        paths.append(tmp_path / f"{kind}.png")
        Image.fromarray(shot(picture, k)).save(paths[-1])
    for seed in range(3):
        paths.append(tmp_path / f"flowers{seed}.png")
        Image.fromarray(shot(flowers(seed), seed)).save(paths[-1])
    together = {one.photo: one for one in read(paths).prints}
    for path in paths:
        for one in read([path]).prints:
            other = together[one.photo]
            assert (one.mean_lab, one.palette) == (other.mean_lab, other.palette)


def test_one_print_in_two_photos_agrees_unless_each_was_said_to_be_its_own(tmp_path: Path) -> None:
    for k in range(2):
        Image.fromarray(shot(flowers(1), k)).save(tmp_path / f"flowers{k}.png")
    agreed = read([tmp_path]).prints
    own = read([tmp_path], shows="one").prints
    assert any("the same print shows" in text for one in agreed for text in one.warnings)
    assert not any("the same print shows" in text for one in own for text in one.warnings)
