"""Which way each letter runs: the Unicode bidirectional algorithm for one line of text.

Unicode Standard Annex 9 (revision 50): paragraph level P2 and P3, weak types W1 to W7, brackets
N0, neutrals N1 and N2, implicit levels I1 and I2, and the order of runs L2. Explicit embeddings
and isolates (X1 to X8) are left out, because their marks are taken out of names beforehand. The
libraries that would do it are under the LGPL or give letters in reading order without the levels
that shaping needs; the tests hold this against one of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from unicodedata import bidirectional

_STRONG = {"L", "R", "AL"}
_NEUTRAL = {"B", "S", "WS", "ON"}
_PAIRS = {"(": ")", "[": "]", "{": "}"}


@dataclass(frozen=True)
class Run:
    """Letters ``start`` to ``stop`` (exclusive, in the text's own order) of one direction."""

    start: int
    stop: int
    rightwards: bool


def visual_runs(text: str) -> tuple[Run, ...]:
    """The runs of a line from left to right; letters within a run stay in the text's order."""
    level = levels(text)
    if not any(level):
        return (Run(0, len(text), True),) if text else ()
    runs = []
    for value, places in groupby(range(len(text)), key=level.__getitem__):
        span = list(places)
        runs.append((value, Run(span[0], span[-1] + 1, value % 2 == 0)))
    for lowest in range(max(level), 0, -1):  # L2
        turned: list[tuple[int, Run]] = []
        highs = [value >= lowest for value, _ in runs]
        for high, part in groupby(zip(highs, runs, strict=True), key=itemgetter(0)):
            stretch = [run for _, run in part]
            turned += reversed(stretch) if high else stretch
        runs = turned
    return tuple(run for _, run in runs)


def levels(text: str) -> list[int]:
    """The embedding level of each letter: even from left to right, odd from right to left."""
    kinds = [bidirectional(sign) or "L" for sign in text]
    base = next((int(kind != "L") for kind in kinds if kind in _STRONG), 0)
    side = "R" if base else "L"
    resolved = _neutral(_brackets(text, _weak(kinds, side), side), side)
    level = [_implicit(kind, base) for kind in resolved]
    for place in range(len(text) - 1, -1, -1):  # L1: blanks at the end of the line
        if kinds[place] not in {"WS", "S", "B"}:
            break
        level[place] = base
    return level


def _implicit(kind: str, base: int) -> int:
    """I1 and I2."""
    if base % 2 == 0:
        return base + {"L": 0, "R": 1}.get(kind, 2)
    return base + (0 if kind == "R" else 1)


def _weak(given: list[str], side: str) -> list[str]:
    """W1 to W7."""
    kinds = list(given)
    for place, kind in enumerate(kinds):
        if kind == "NSM":
            kinds[place] = kinds[place - 1] if place else side
    strong = side
    for place, kind in enumerate(kinds):
        if kind in _STRONG:
            strong = kind
        elif kind == "EN" and strong == "AL":
            kinds[place] = "AN"
    kinds = ["R" if kind == "AL" else kind for kind in kinds]
    _between_figures(kinds)
    _beside_figures(kinds)
    strong = side
    for place, kind in enumerate(kinds):
        if kind in {"ES", "ET", "CS", "BN"}:
            kinds[place] = "ON"
        elif kind in {"L", "R"}:
            strong = kind
        elif kind == "EN" and strong == "L":
            kinds[place] = "L"
    return kinds


def _between_figures(kinds: list[str]) -> None:
    """W4: one separator between two figures of a kind is part of the number."""
    for place in range(1, len(kinds) - 1):
        before, kind, after = kinds[place - 1 : place + 2]
        if before == after and (
            (kind == "ES" and before == "EN") or (kind == "CS" and before in {"EN", "AN"})
        ):
            kinds[place] = before


def _beside_figures(kinds: list[str]) -> None:
    """W5: terminators such as % or ° that touch a European figure are part of the number."""
    place = 0
    for kind, part in groupby(list(kinds)):
        stop = place + len(list(part))
        beside = kinds[max(place - 1, 0) : place] + kinds[stop : stop + 1]
        if kind == "ET" and "EN" in beside:
            kinds[place:stop] = ["EN"] * (stop - place)
        place = stop


def _brackets(text: str, given: list[str], side: str) -> list[str]:
    """N0: a pair of brackets takes the direction of what it encloses, or of what comes before."""
    kinds = list(given)
    for first, last in sorted(_pairs(text, kinds)):
        inside = {_strong(kind) for kind in kinds[first + 1 : last]} - {""}
        if not inside:
            continue
        before = next((_strong(k) for k in reversed(kinds[:first]) if _strong(k)), side)
        kinds[first] = kinds[last] = side if side in inside else before
    return kinds


def _pairs(text: str, kinds: list[str]) -> list[tuple[int, int]]:
    """BD16: the brackets that belong together."""
    opened: list[int] = []
    found = []
    for place, sign in enumerate(text):
        if kinds[place] != "ON":
            continue
        if sign in _PAIRS:
            opened.append(place)
        elif sign in _PAIRS.values():
            match = [k for k, left in enumerate(opened) if _PAIRS[text[left]] == sign]
            if match:
                found.append((opened[match[-1]], place))
                del opened[match[-1] :]
    return found


def _strong(kind: str) -> str:
    return {"L": "L", "R": "R", "EN": "R", "AN": "R"}.get(kind, "")


def _neutral(given: list[str], side: str) -> list[str]:
    """N1 and N2: what lies between two letters of one direction runs with them."""
    kinds = list(given)
    place = 0
    for neutral, part in groupby(list(kinds), key=_NEUTRAL.__contains__):
        stop = place + len(list(part))
        if neutral:
            before = _strong(kinds[place - 1]) if place else side
            after = _strong(kinds[stop]) if stop < len(kinds) else side
            kinds[place:stop] = [before if before == after else side] * (stop - place)
        place = stop
    return kinds
