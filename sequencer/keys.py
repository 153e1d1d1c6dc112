"""A letter for each print, the same on every page, so that nothing hangs on colour alone."""

from __future__ import annotations

from collections.abc import Sequence

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""I and O are left out: on a sheet beside figures they read as 1 and 0."""


def key_letters(ids: Sequence[str]) -> dict[str, str]:
    """Letters for the prints in sequence: A to Z, then AA, AB, …

    >>> key_letters(["sand", "rust"])
    {'sand': 'A', 'rust': 'B'}
    """
    return {ident: _letters(place) for place, ident in enumerate(ids)}


def _letters(place: int) -> str:
    first, last = divmod(place, len(_LETTERS))
    return (_letters(first - 1) if first else "") + _LETTERS[last]
