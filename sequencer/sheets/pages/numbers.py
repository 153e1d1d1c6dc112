"""Numbers of columns, and how many of a thing, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sequencer.keys import listed


def runs(numbers: Iterable[int]) -> list[list[int]]:
    """Numbers that follow each other, together."""
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    return found


def numbers_words(word: str, numbers: Sequence[int]) -> str:
    """``column 3``, ``columns 3, 5 to 8 and 12``."""
    parts = [part for run in runs(numbers) for part in (
        [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run])]
    return f"{word}{'' if len(numbers) == 1 else 's'} {listed(parts)}"


def many(count: int, word: str) -> str:
    """``1 strip``, ``2 strips``."""
    return f"{count} {word}{'' if count == 1 else 's'}"
