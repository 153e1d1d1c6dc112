"""Ways to cut one scrap into lanes as wide as a strip, by straight cuts through.

A lane is as wide as the strip and as long as the cloth it is cut from. All lanes may run along
one side, or some along one side first and the rest, in what is left, along the other (the
two-stage guillotine patterns of Gilmore and Gomory, Operations Research 13 (1965) 94, with the
stages turned). Lengths are whole numbers of a common part of an inch.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

MOST_MIXED = 12
"""Ways with lanes in both directions, for each side that may be cut first."""


@dataclass(frozen=True)
class Block:
    """``count`` lanes beside one another, ``length`` long ``along`` a side of the scrap.

    ``at``: the corner of the first, x along the scrap's long side, from the squared corner.
    """

    along: str
    at: tuple[int, int]
    count: int
    length: int


@dataclass(frozen=True)
class Way:
    """The blocks of a scrap in the order they are cut; ``lanes``: every lane's length."""

    blocks: tuple[Block, ...]
    lanes: tuple[int, ...]


@lru_cache(maxsize=8192)
def ways_to_cut(
    sides: tuple[int, int], width: int, least: int, upright: str | None = None
) -> tuple[Way, ...]:
    """Every way that may serve, each lane at least ``least`` long; none with equal lanes twice.

    ``sides``: usable (long, short). ``upright``: the only side that lanes may run along.
    """
    found: dict[tuple[int, ...], Way] = {}
    for blocks in _mixes(sides, width, upright):
        kept = tuple(b for b in blocks if b.count and b.length >= least)
        lanes = tuple(b.length for b in kept for _ in range(b.count))
        if lanes:
            found.setdefault(tuple(sorted(lanes)), Way(kept, lanes))
    return tuple(found.values())


def most_length(
    sides: tuple[int, int], width: int, upright: str | None = None, toll: int = 0, least: int = 1
) -> int:
    """No way to cut gives more length of lane, a ``toll`` taken off each and those shorter than
    ``least`` left out. Every way is counted, also those that :func:`ways_to_cut` passes over.
    """
    long, short = sides
    rows, files = short // width, long // width

    def worth(count: int, length: int) -> int:
        return count * (length - toll) if length >= least and length > toll else 0

    if upright:
        return worth(rows, long) if upright == "long" else worth(files, short)
    first = (worth(k, long) + worth(files, short - k * width) for k in range(rows + 1))
    second = (worth(k, short) + worth(rows, long - k * width) for k in range(files + 1))
    return max(*first, *second)


def _mixes(
    sides: tuple[int, int], width: int, upright: str | None
) -> list[tuple[Block, ...]]:
    long, short = sides
    rows, files = short // width, long // width
    plain = {
        "long": (Block("long", (0, 0), rows, long),),
        "short": (Block("short", (0, 0), files, short),),
    }
    if upright:
        return [plain[upright]]
    mixed: list[tuple[Block, ...]] = [plain["long"], plain["short"]]
    for k in _some(rows - 1):
        mixed.append((
            Block("long", (0, 0), k, long),
            Block("short", (0, k * width), files, short - k * width),
        ))  # fmt: skip
    for k in _some(files - 1):
        mixed.append((
            Block("short", (0, 0), k, short),
            Block("long", (k * width, 0), rows, long - k * width),
        ))  # fmt: skip
    return mixed


def _some(most: int) -> list[int]:
    """1 to ``most``, or evenly spread numbers among them."""
    if most <= MOST_MIXED:
        return list(range(1, most + 1))
    return sorted({1 + i * (most - 1) // (MOST_MIXED - 1) for i in range(MOST_MIXED)})
