"""What a print goes by, the same on page, sheets and terminal: its name, or where nobody gave it
one a letter and its commonest colour, so that nothing hangs on colour alone. And several in a row.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from sequencer.models import Print

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""I and O are left out: on a sheet beside figures they read as 1 and 0."""
_NUMBERED = re.compile(r".+-\d+")


def key_letters(ids: Sequence[str]) -> dict[str, str]:
    """Letters for the prints in sequence: A to Z, then AA, AB, …

    >>> key_letters(["sand", "rust"])
    {'sand': 'A', 'rust': 'B'}
    """
    return {ident: _letters(place) for place, ident in enumerate(ids)}


def _letters(place: int) -> str:
    first, last = divmod(place, len(_LETTERS))
    return (_letters(first - 1) if first else "") + _LETTERS[last]


def unnamed(one: Print) -> bool:
    """Whether nobody named the print: it goes by its photograph and a number."""
    return one.name in ("", one.id) and _NUMBERED.fullmatch(one.id) is not None


def colour_shares(one: Print) -> dict[str, float]:
    """Share of a print that each colour name covers, the largest first; nameless ones left out."""
    named: dict[str, float] = {}
    for colour in one.palette:
        if colour.name:
            named[colour.name] = named.get(colour.name, 0.0) + colour.share
    return dict(sorted(named.items(), key=lambda item: -item[1]))


def commonest(one: Print) -> str:
    """The name of the colour that covers most of a print; empty where none has a name."""
    return next(iter(colour_shares(one)), "")


def labels(prints: Iterable[Print], order: Sequence[str]) -> dict[str, str]:
    """What each print goes by, by id; prints outside the ``order`` take the letters after it."""
    known = {one.id: one for one in prints}
    letters = key_letters([*order, *(id_ for id_ in known if id_ not in set(order))])
    colours = {id_: commonest(one) for id_, one in known.items() if unnamed(one)}
    return {
        id_: f"{letters[id_]} {colours[id_]}" if colours.get(id_) else one.name or id_
        for id_, one in known.items()
    }


def told(text: str, called: Mapping[str, str]) -> str:
    """A sentence with what its prints go by in place of ids, which a letter may precede."""
    for id_, label in called.items():
        if label != id_ and id_ in text:
            text = re.sub(rf"(?<![\w-])(?:[A-Z]{{1,2}} )?{re.escape(id_)}(?![\w-])", label, text)
    return text


def listed(words: Iterable[str], last: str = "and") -> str:
    """``a``; ``a and b``; ``a, b and c``; one word or more."""
    *others, end = words
    return f"{', '.join(others)} {last} {end}" if others else end
