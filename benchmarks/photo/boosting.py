"""Gradient boosting of the small trees of sequencer/photo/reference/trees.py.

Of all candidates of a photo one or none is right: each tree is fitted to slope and curvature of the
conditional logit's likelihood (McFadden 1974; Friedman 2001), on some photos and some columns drawn
from the seed, and counts a tenth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.photo.reference.trees import ends

ROUNDS, SHRUNK = 150, 0.1
VALUES = 33  # of a column; questions are asked between them
FEWEST = 10  # candidates on either side of a question
RIDGE = 3.0  # curvature added to each end's own
LEAST_CURVED = 1e-4
DRAWN_PHOTOS, DRAWN_COLUMNS = 0.7, 0.3


@dataclass
class Choices:
    """Candidates (n) of photos, one photo after the other.

    ``rows`` (n, k): what may be asked. ``photo`` (n,): rising from 0. ``right`` (n,): the card.
    ``sheet``, ``grey`` (n,): log odds of each as they stand.
    """

    rows: np.ndarray
    photo: np.ndarray
    right: np.ndarray
    sheet: np.ndarray
    grey: np.ndarray


def fitted(choices: Choices, seed: int = 0) -> np.ndarray:
    """Trees (t, 10) as trees.csv holds them."""
    rng = np.random.default_rng(seed)
    limits = [_limits(column) for column in choices.rows.T]
    both = zip(limits, choices.rows.T, strict=True)
    binned = np.column_stack([np.searchsorted(limit, column) for limit, column in both])
    grey, trees = choices.grey.copy(), []
    for _ in range(ROUNDS):
        share = _shares(choices.sheet, grey, choices.photo)
        held = (rng.random(choices.photo[-1] + 1) < DRAWN_PHOTOS)[choices.photo]
        columns = np.sort(rng.permutation(len(limits))[: int(DRAWN_COLUMNS * len(limits))])
        slope = (choices.right - share)[held]
        curve = np.maximum(share * (1 - share), LEAST_CURVED)[held]
        trees.append(_Tree(binned[held], columns, limits, slope, curve).line())
        grey += ends(trees[-1], choices.rows)
    return np.array(trees)


def _shares(sheet: np.ndarray, grey: np.ndarray, photo: np.ndarray) -> np.ndarray:
    """Probability (n,) of each candidate being its photo's card."""
    first = np.flatnonzero(np.diff(photo, prepend=-1))
    top = np.maximum(np.maximum.reduceat(np.maximum(sheet, grey), first), 0)
    card = np.exp(grey - top[photo])
    total = np.add.reduceat(card + np.exp(sheet - top[photo]), first) + np.exp(-top)
    return card / total[photo]


def _limits(column: np.ndarray) -> np.ndarray:
    """Where questions can be asked: half-way between values, so that no last bit tells sides."""
    values = np.unique(np.quantile(column, np.linspace(0, 1, VALUES)).round(3))
    return np.asarray((values[1:] + values[:-1]) / 2) if len(values) > 1 else values


@dataclass
class _Tree:
    """One tree in the making: candidates ``binned`` (n, k) by the ``limits`` of each column."""

    binned: np.ndarray
    columns: np.ndarray
    limits: list[np.ndarray]
    slope: np.ndarray
    curve: np.ndarray

    def line(self) -> np.ndarray:
        """Columns and limits of the three questions, and what the four ends add."""
        first = self._question(np.ones(len(self.slope), bool))
        above = self._above(first)
        questions, added = [first], []
        for side in (~above, above):
            then = self._question(side)
            questions.append(then)
            high = self._above(then)
            added += [self._added(side & ~high), self._added(side & high)]
        asked = [value for column, at in questions for value in (column, self.limits[column][at])]
        return np.array([*asked, *added])

    def _above(self, question: tuple[int, int]) -> np.ndarray:
        return self.binned[:, question[0]] > question[1]

    def _added(self, end: np.ndarray) -> float:
        return round(SHRUNK * self.slope[end].sum() / (self.curve[end].sum() + RIDGE), 4)

    def _question(self, among: np.ndarray) -> tuple[int, int]:
        """Column, and number of its limit, that part the candidates ``among`` all best."""
        best, answer = -1.0, (int(self.columns[0]), 0)
        for column in self.columns:
            gain = self._gains(column, among)
            if gain.max() > best:
                best, answer = float(gain.max()), (int(column), int(gain.argmax()))
        return answer

    def _gains(self, column: int, among: np.ndarray) -> np.ndarray:
        """What each limit of a column would gain, -1 where it leaves too few on a side."""
        place, count = self.binned[among, column], len(self.limits[column]) + 1
        slope, curve, many = (
            np.bincount(place, weights, count).cumsum()
            for weights in (self.slope[among], self.curve[among], np.ones(len(place)))
        )
        gain = slope**2 / (curve + RIDGE) + (slope[-1] - slope) ** 2 / (curve[-1] - curve + RIDGE)
        gain[(many < FEWEST) | (many[-1] - many < FEWEST)] = -1.0
        return gain[:-1]
