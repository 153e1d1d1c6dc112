"""Small trees for what weights leave of a grey card, and how they are fitted."""

import sys
from functools import cache
from pathlib import Path

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.reference import evidence, trees
from sequencer.photo.reference.likeliest import likeliest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks" / "photo"))

from boosting import Choices, fitted
from reference_scenes import varied

CARDS = range(230, 242)


@cache
def photo(seed: int) -> tuple[Photo, np.ndarray]:
    """A card of any size, side ratio and turn between pale scraps, and where it lies (x, y)."""
    view = varied(seed, "grey")
    assert view.reference is not None
    middle = np.argwhere(view.reference).mean(axis=0)[::-1]
    return Photo("s.jpg", "s", view.pixels, view.pixels.shape[1::-1]), middle


def test_each_answer_leads_to_its_own_end():
    tree = np.array([1, 0.5, 0, 2.0, 2, -1.0, 10, 20, 30, 40])
    rows = np.array([
        [2.0, 0.5, 0.0], [2.1, 0.5, 0.0], [9.0, 0.6, -1.0], [0.0, 0.6, -0.9]
    ])  # fmt: skip
    assert trees.ends(tree, rows).tolist() == [10, 20, 30, 40]


def nothing_known(count: int) -> tuple[np.ndarray, np.ndarray]:
    both = evidence.SHEET_WEIGHTS, evidence.GREY_WEIGHTS
    sheet, grey = (np.zeros((count, len(weights))) for weights in both)
    return sheet, grey


def test_the_file_asks_only_of_what_there_is_and_never_much_at_once():
    columns = evidence.asked(*nothing_known(1)).shape[1]
    table = np.loadtxt(trees.FILE, delimiter=",")
    assert table.shape[1] == 10
    asked = table[:, [0, 2, 4]]
    assert (asked == asked.round()).all()
    assert asked.min() >= 0
    assert asked.max() < columns
    assert np.abs(table[:, 6:]).max() < 0.5


def test_size_and_sides_are_never_asked_about():
    """Sheets of any size and ratio: nothing that trees are shown tells them apart."""
    sheet, grey = nothing_known(2)
    shape = [1, 2, 9]  # off a sheet's ratio, long, area: as evidence.features has them
    sheet[1, shape] = grey[1, shape] = 5.0
    rows = evidence.asked(sheet, grey)
    assert (rows[0] == rows[1]).all()


def unasked(with_trees: bool, monkeypatch) -> int:
    if not with_trees:
        monkeypatch.setattr(evidence, "added", lambda rows: np.zeros(len(rows)))
    right = 0
    for seed in CARDS:
        one, middle = photo(seed)
        best = likeliest(one, "auto")
        found = best is not None and best.kind == "grey" and best.sure >= 0.5
        right += bool(found and np.hypot(*(best.centre - middle)) < 20)
    return right


def test_more_cards_are_found_unasked_than_by_weights_alone(monkeypatch):
    """Six of these twelve, three of them without trees; a loss of two of that is a fault."""
    found = unasked(True, monkeypatch)
    assert unasked(False, monkeypatch) + 2 <= found


def together(seed: int, count: int = 400) -> Choices:
    """Photos of three candidates each; the card is neither low nor high in one of four things,
    which no weight can say; no sheet is anywhere."""
    rng = np.random.default_rng(seed)
    rows = rng.random((3 * count, 4))
    right = middling(rows) & (np.repeat(middling(rows).reshape(-1, 3).sum(axis=1), 3) == 1)
    photos = np.repeat(np.arange(count), 3)
    return Choices(rows, photos, right, np.full(3 * count, -20.0), np.full(3 * count, -1.0))


def middling(rows: np.ndarray) -> np.ndarray:
    return np.abs(rows[:, 0] - 0.5) < 0.15


def test_fitted_trees_learn_what_no_weight_can_say():
    table, fresh = fitted(together(1)), together(2)
    odds = np.sum([trees.ends(tree, fresh.rows) for tree in table], axis=0)
    in_the_middle = middling(fresh.rows)
    assert odds[in_the_middle].mean() > odds[~in_the_middle].mean() + 1.5
    for beside in (1, 2, 3):
        high = fresh.rows[:, beside] > 0.5
        assert abs(odds[high].mean() - odds[~high].mean()) < 0.3
    assert (fitted(together(1)) == table).all()
