"""Best columns along a curve: least squares over the ruler's grid, by dynamic programming.

R. Bellman, 'On the approximation of curves by line segments using dynamic programming',
Communications of the ACM 4 (1961) 284, with a constant piece for each column, widths between a
smallest and a largest, and a set of allowed steps between neighbours. With the running sum
G[x, o] of squared misses at offset o the cost of a column from a to b is G[b, o] - G[a, o], so

    best[b, o] = G[b, o] + price + min over a of (reach[a, o] - G[a, o])

where reach[a, o] is the best cost up to a from which a column of offset o may follow. All costs
are whole numbers (thousandths of a row, squared), so the same curve gives the same columns on
every machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import PlanError

Ints = NDArray[np.int64]
MILLI = 1000
MOST_STATES = 8_000_000
MOST_WORK = 1_000_000_000
FAR = np.int64(2**60)


@dataclass(frozen=True)
class Fitted:
    """Column widths in ruler cells, offsets in rows (not yet wrapped), and the fit."""

    widths: tuple[int, ...]
    offsets: tuple[int, ...]
    rms_rows: float
    cost: int


def fit_columns(
    rows: NDArray[np.float64],
    smallest: int,
    largest: int,
    steps: Sequence[int] = (1,),
    price: float = 0.0,
    symmetric: bool = False,
) -> Fitted:
    """Columns that follow ``rows`` (curve in rows at each cell) best, exactly as wide as it.

    Args:
        rows: curve height at each of P cells.
        smallest, largest: column widths in cells, 1 ≤ smallest ≤ largest.
        steps: allowed differences between neighbours' offsets, as sizes (1 means ±1).
        price: cost of each column, in squared rows × cells; keeps slivers away from crests.
        symmetric: mirror the columns about the middle (the curve is averaged with its mirror).

    Raises:
        PlanError: no number of such columns adds up to the width, or the table would not fit
            into memory.
    """
    aims = np.rint(rows * MILLI).astype(np.int64)
    if symmetric:
        aims = (aims + aims[::-1]) // 2
    cells = len(aims)
    _check_fill(cells, smallest, largest)
    offsets = np.arange(aims.min() // MILLI - 1, aims.max() // MILLI + 3)
    largest = min(largest, cells)
    _check_work(cells * len(offsets), (largest - smallest) // smallest + 1)
    table = _Table(aims, offsets, smallest, largest, tuple(steps), round(price * MILLI**2))
    widths, chosen, cost = table.symmetric() if symmetric else table.solve()
    return Fitted(tuple(widths), tuple(chosen), _rms(aims, widths, chosen), cost)


def _check_fill(cells: int, smallest: int, largest: int) -> None:
    if cells < smallest or -(-cells // largest) * smallest > cells:
        raise PlanError("No number of columns between the smallest and largest fills the width.")


def _check_work(states: int, choices: int) -> None:
    if states > MOST_STATES or states * choices > MOST_WORK:
        raise PlanError(
            "This curve is too high, or the ruler too fine, to try all columns. Use a coarser "
            "ruler, a lower curve or a narrower largest column."
        )


class _Table:
    """The filled table of best costs; one row for each place on the ruler."""

    def __init__(
        self,
        aims: Ints,
        offsets: Ints,
        smallest: int,
        largest: int,
        steps: tuple[int, ...],
        price: int,
    ) -> None:
        self.cells, self.offsets, self.price = len(aims), offsets, price
        self.smallest, self.largest = smallest, largest
        self.jumps = sorted({sign * step for step in steps for sign in (-1, 1)})
        misses = (aims[:, None] - offsets[None, :] * MILLI) ** 2
        self.sums = np.zeros((self.cells + 1, len(offsets)), dtype=np.int64)
        np.cumsum(misses, axis=0, out=self.sums[1:])
        self.best = np.full_like(self.sums, FAR)
        # open[a + window - 1] is reach[a] - G[a]; the rows before a = 0 stand for no place at all
        self.window = largest - smallest + 1
        self.open = np.full((self.cells + self.window, len(offsets)), FAR)
        self.open[self.window - 1] = 0
        self._fill()

    def _fill(self) -> None:
        """Columns are at least ``smallest`` wide, so that many places can be filled at once."""
        for first in range(self.smallest, self.cells + 1, self.smallest):
            last = min(first + self.smallest, self.cells + 1)
            near = self.open[first - self.smallest : last - self.smallest + self.window - 1]
            least, ends = _window_minima(near, self.window), self.sums[first:last]
            self.best[first:last] = np.where(least < FAR // 2, least + ends + self.price, FAR)
            follow = self._follow(self.best[first:last])
            self.open[first + self.window - 1 : last + self.window - 1] = np.where(
                follow < FAR, follow - ends, FAR
            )

    def _start(self, place: int, index: int) -> int:
        """Where the column ending at ``place`` begins; the widest of equally good ones."""
        low = place - self.smallest
        ways = self.open[low : low + self.window, index]
        return low - (self.window - 1) + int(ways.argmin())

    def _follow(self, best: Ints) -> Ints:
        """Least cost among the offsets from which each offset may follow."""
        reach = np.full_like(best, FAR)
        size = best.shape[-1]
        for jump in self.jumps:
            to, source = slice(max(0, -jump), size - max(0, jump)), slice(
                max(0, jump), size - max(0, -jump)
            )
            reach[..., to] = np.minimum(reach[..., to], best[..., source])
        return reach

    def _before(self, place: int, index: int) -> int:
        """Index of the offset that the column ending at ``place`` had before ``index``."""
        size = len(self.offsets)
        sources = [index + jump for jump in self.jumps if 0 <= index + jump < size]
        return min(sources, key=lambda at: (int(self.best[place, at]), at))

    def _trace(self, place: int, index: int) -> tuple[list[int], list[int]]:
        widths, chosen = [], []
        while place > 0:
            start = self._start(place, index)
            widths.append(place - start)
            chosen.append(int(self.offsets[index]))
            place = start
            if place > 0:
                index = self._before(place, index)
        return widths[::-1], chosen[::-1]

    def solve(self) -> tuple[list[int], list[int], int]:
        """Widths, offsets and cost of the best columns over the whole width."""
        index = int(self.best[self.cells].argmin())
        return *self._trace(self.cells, index), int(self.best[self.cells, index])

    def symmetric(self) -> tuple[list[int], list[int], int]:
        """The best mirrored columns: a left half, one column across the middle, its mirror."""
        answers: list[tuple[int, int, int]] = []
        for left in range(max(0, (self.cells - self.largest + 1) // 2), self.cells // 2 + 1):
            if left and left < self.smallest:
                continue
            if self.cells - 2 * left < self.smallest:
                break
            middle = self.sums[self.cells - left] - self.sums[left] + self.price
            half = self._follow(self.best[left]) if left else np.zeros_like(middle)
            total = np.where(half < FAR // 4, middle + 2 * half, FAR)
            index = int(total.argmin())
            answers.append((int(total[index]), left, index))
        if not answers or min(answers)[0] >= FAR // 4:
            raise PlanError("No mirrored columns fill the width. Widen the largest column.")
        cost, left, index = min(answers)
        widths, chosen = self._trace(left, self._before(left, index)) if left else ([], [])
        across, offset = self.cells - 2 * left, int(self.offsets[index])
        return [*widths, across, *widths[::-1]], [*chosen, offset, *chosen[::-1]], cost


def _window_minima(near: Ints, window: int) -> Ints:
    """Least of rows i to i + window - 1 for every i, column by column.

    All windows share a core, which is searched once; what they have before and after it is
    gathered by running minima.
    """
    count = len(near) - window + 1
    if window < count:
        views = np.lib.stride_tricks.sliding_window_view(near, window, axis=0)
        return np.asarray(views.min(axis=2))
    least = np.repeat(near[count - 1 : window].min(axis=0)[None, :], count, axis=0)
    if count > 1:
        before = np.minimum.accumulate(near[: count - 1][::-1], axis=0)[::-1]
        after = np.minimum.accumulate(near[window:], axis=0)
        np.minimum(least[:-1], before, out=least[:-1])
        np.minimum(least[1:], after, out=least[1:])
    return least


def fit_offsets(means: NDArray[np.float64], weights: Sequence[float],
                steps: Sequence[int] = (1,)) -> tuple[int, ...]:
    """Offsets for columns of given widths: least squares to the curve's mean in each column.

    ``means``: curve in rows over each of K columns; ``weights``: their widths.
    """
    aims = np.rint(means * MILLI).astype(np.int64)
    load = np.rint(np.asarray(weights, dtype=float) * MILLI).astype(np.int64)
    offsets = np.arange(aims.min() // MILLI - 1, aims.max() // MILLI + 3)
    jumps = sorted({sign * step for step in steps for sign in (-1, 1)})
    miss = (aims[:, None] - offsets[None, :] * MILLI) ** 2 * load[:, None]
    best = miss[0]
    back = np.zeros(miss.shape, dtype=int)
    for column in range(1, len(aims)):
        padded = np.stack([_shifted(best, jump) for jump in jumps])
        pick = padded.argmin(axis=0)
        back[column] = np.arange(len(offsets)) + np.array(jumps)[pick]
        best = np.minimum(padded.min(axis=0), FAR // 2) + miss[column]
    index, chosen = int(best.argmin()), []
    for column in range(len(aims) - 1, -1, -1):
        chosen.append(int(offsets[index]))
        index = int(back[column, index])
    return tuple(chosen[::-1])


def _shifted(best: Ints, jump: int) -> Ints:
    moved = np.full_like(best, FAR // 2)
    size = len(best)
    moved[max(0, -jump) : size - max(0, jump)] = best[max(0, jump) : size - max(0, -jump)]
    return moved


def _rms(aims: Ints, widths: Sequence[int], offsets: Sequence[int]) -> float:
    shown = np.repeat(np.asarray(offsets) * MILLI, widths)
    return float(np.sqrt(np.mean((aims - shown).astype(float) ** 2))) / MILLI
