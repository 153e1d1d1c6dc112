"""The best teeth for given handles: comb inequalities whose teeth are stretches of a good tour.

After Applegate, Bixby, Chvátal and Cook (2006, chapter 9, 'teething'): for each handle the odd
number of disjoint stretches that break the comb most, found by a running minimum along the tour.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse.csgraph import connected_components

from sequencer.order.costs import Floats, Ints
from sequencer.order.cuts import Cut, Mask, support

_LONGEST = 60
_MOST_HANDLES = 250
_WORTH = 0.04
_LEVELS = (1e-4, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5)


def toothed(n: int, ends: Ints, x: Floats, order: Ints, cuts: Sequence[Cut]) -> list[Cut]:
    """Broken combs, worst first, on handles of the support and of the ``cuts`` in force."""
    handles = _handles(n, ends, x, cuts)
    if not len(handles):
        return []
    inside = np.triu(support(n, ends, x)[order][:, order].toarray(), 1)
    inside = np.cumsum(inside[::-1], axis=0)[::-1].cumsum(axis=1)
    leaving = np.array([_leaving(mask, ends, x) for mask in handles])
    best, choice = _along(handles[:, order], inside)
    lack = 1 - leaving - best
    worst = np.argsort(-lack, kind="stable")[:80]
    return [_comb(handles[h], choice, int(h), order) for h in worst.tolist() if lack[h] > _WORTH]


def _leaving(mask: Mask, ends: Ints, x: Floats) -> float:
    return float(x[mask[ends[:, 0]] != mask[ends[:, 1]]].sum())


def _handles(n: int, ends: Ints, x: Floats, cuts: Sequence[Cut]) -> Mask:
    """Pieces that hang together by fractional edges, and the handles of combs in force."""
    found: dict[bytes, Mask] = {}
    for least in _LEVELS:
        for most in (1 - 1e-4, 0.85, 0.7):
            if least >= most:
                continue
            kept = np.where((x > least) & (x < most), x, 0.0)
            count, label = connected_components(support(n, ends, kept), directed=False)
            size = np.bincount(label, minlength=count)
            for piece in np.flatnonzero((size >= 3) & (size <= n - 3)).tolist():
                mask = label == piece
                found.setdefault(mask.tobytes(), mask)
    for cut in cuts:
        if len(cut.sets) > 1:
            found.setdefault(cut.sets[0].tobytes(), cut.sets[0])
    few = sorted(found.values(), key=lambda mask: _leaving(mask, ends, x))[:_MOST_HANDLES]
    return np.array(few, dtype=bool).reshape(len(few), n)


def _along(handles: Mask, inside: Floats) -> tuple[Floats, Ints]:
    """Least sum of (edges leaving − 3) over an odd number of disjoint stretches that cross.

    ``handles`` (h, n) along the tour. Returns that sum (h,) and, for each handle, place and parity,
    where the stretch that ends there starts (−1: none does), (h, n + 1, 2).
    """
    h, n = handles.shape
    counts = np.zeros((h, n + 1), dtype=np.int64)
    counts[:, 1:] = np.cumsum(handles, axis=1)
    best = np.full((h, n + 1, 2), np.inf)
    best[:, 0, 0] = 0.0
    choice = np.full((h, n + 1, 2), -1, dtype=np.int64)
    for end in range(1, n + 1):
        best[:, end] = best[:, end - 1]
        starts = np.arange(max(0, end - min(_LONGEST, n // 2)), end - 1)
        gain = 2.0 * (end - starts) - 2.0 * inside[starts, end - 1] - 3.0
        good = gain < -1e-3
        starts, gain = starts[good], gain[good]
        if not len(starts):
            continue
        within = counts[:, end, None] - counts[:, starts]
        crosses = (within > 0) & (within < end - starts)
        for parity in (0, 1):
            total = np.where(crosses, best[:, starts, 1 - parity] + gain, np.inf)
            at = total.argmin(axis=1)
            least = total[np.arange(h), at]
            better = np.flatnonzero(least < best[:, end, parity] - 1e-9)
            best[better, end, parity] = least[better]
            choice[better, end, parity] = starts[at[better]]
    return best[:, n, 1], choice


def _comb(handle: Mask, choice: Ints, which: int, order: Ints) -> Cut:
    teeth: list[Mask] = []
    end, parity = len(order), 1
    while end > 0:
        start = int(choice[which, end, parity])
        if start < 0:
            end -= 1
            continue
        tooth = np.zeros(len(order), dtype=bool)
        tooth[order[start:end]] = True
        teeth.append(tooth)
        end, parity = start, 1 - parity
    return Cut((handle, *teeth), 3 * len(teeth) + 1)
