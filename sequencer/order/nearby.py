"""A better order close by: steepest descent by 2-opt and Or-opt (Croes 1958; Or 1976).

Everything works on a ring. A path becomes one by a further place that costs nothing to be next
to; where that place lies, the path begins and ends.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sequencer.colour.spaces import Floats

Ring = NDArray[np.intp]
Allows = Callable[[list[int]], bool]

LONGEST_PIECE = 3
_TRIES = 20


def descend(costs: Floats, order: list[int], loop: bool, allows: Allows, rounds: int) -> list[int]:
    """The order that at most ``rounds`` best moves lead to, from ``order``.

    ``costs``: (n, n) symmetric, what each step weighs; inf where two may not meet. ``allows``
    tells whether an order may be taken; the best of the first few that it allows is taken.
    """
    size = len(costs)
    weights = costs if loop else np.pad(costs, (0, 1))
    ring = np.array(order if loop else [*order, size], dtype=np.intp)
    for _ in range(rounds):
        better = _best_move(weights, ring, size, allows)
        if better is None:
            break
        ring = better
    return _opened(ring, size)


def _best_move(weights: Floats, ring: Ring, size: int, allows: Allows) -> Ring | None:
    """Try the most gainful moves until one is allowed."""
    gains = [_turn_gains(weights, ring)]
    lengths = range(1, min(LONGEST_PIECE, len(ring) - 3) + 1)
    ways = [(length, turned) for length in lengths for turned in (False, True)]
    gains += [_lift_gains(weights, ring, length, turned) for length, turned in ways]
    every = np.stack(gains)
    tolerance = 1e-9 * float(np.max(weights[np.isfinite(weights)], initial=1.0))
    flat = every.ravel()
    tries = min(_TRIES, len(flat) - 1)
    for at in sorted(np.argpartition(flat, tries)[:tries].tolist(), key=lambda k: (flat[k], k)):
        if not flat[at] < -tolerance:
            return None
        kind, i, j = (int(x) for x in np.unravel_index(at, every.shape))
        better = _turn(ring, i, j) if kind == 0 else _lift(ring, i, j, *ways[kind - 1])
        if allows(_opened(better, size)):
            return better
    return None


def _turn_gains(weights: Floats, ring: Ring) -> Floats:
    """(N, N): what turning the stretch from place i to place j > i round changes."""
    before, after = np.roll(ring, 1), np.roll(ring, -1)
    new = weights[before[:, None], ring[None, :]] + weights[ring[:, None], after[None, :]]
    old = weights[before, ring][:, None] + weights[ring, after][None, :]
    gains = np.where(np.isfinite(new), new - old, np.inf)
    gains[np.tril_indices(len(ring))] = np.inf
    gains[0, -1] = np.inf
    return np.asarray(gains)


def _turn(ring: Ring, i: int, j: int) -> Ring:
    return np.concatenate([ring[:i], ring[i : j + 1][::-1], ring[j + 1 :]])


def _lift_gains(weights: Floats, ring: Ring, length: int, turned: bool) -> Floats:
    """(N, N): lift ``length`` prints from place i on, set them down between places j and j + 1."""
    count = len(ring)
    head, tail = ring, np.roll(ring, 1 - length)
    left, right = np.roll(ring, 1), np.roll(ring, -length)
    lifted = weights[left, right] - weights[left, head] - weights[tail, right]
    if turned:
        head, tail = tail, head
    here, there = ring, np.roll(ring, -1)
    new = lifted[:, None] + weights[here[None, :], head[:, None]]
    new = new + weights[tail[:, None], there[None, :]] - weights[here, there][None, :]
    gap = (np.arange(count)[None, :] - np.arange(count)[:, None]) % count
    inside = (gap < length) | (gap == count - 1)
    return np.where(inside | ~np.isfinite(new), np.inf, new)


def _lift(ring: Ring, i: int, j: int, length: int, turned: bool) -> Ring:
    line = np.roll(ring, -i)
    piece, rest = line[:length], line[length:]
    cut = (j - i) % len(ring) - length + 1
    return np.concatenate([rest[:cut], piece[::-1] if turned else piece, rest[cut:]])


def _opened(ring: Ring, size: int) -> list[int]:
    """The order without the place beyond the end, starting after it."""
    if len(ring) == size:
        return [int(k) for k in ring]
    at = int(np.flatnonzero(ring == size)[0])
    return [int(k) for k in np.roll(ring, -at - 1)[:-1]]
