"""Letters into shapes: the glyphs that HarfBuzz chooses and places, cluster by cluster.

A cluster is the least part of a word that is drawn as one: a letter with its marks, a ligature, a
syllable. Runs come in the order of the page, from left to right.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from unicodedata import category

from sequencer.lettering.direction import visual_runs
from sequencer.lettering.faces import Face, country_of, covering

UNITS = 2048
"""Units of the em: Vera's own."""
STYLES = ("regular", "bold")
_JOINERS = "\u200c\u200d"
_LATIN = "NotoSans"
_TURNED = str.maketrans("()[]{}<>«»‹›", ")(][}{><»«›‹")
"""L4: what a bracket becomes where the line runs from right to left."""


@dataclass(frozen=True)
class Placed:
    """A glyph of a face, shifted by ``x`` and ``y`` units from where its cluster begins."""

    glyph: int
    x: int
    y: int


@dataclass(frozen=True)
class Cluster:
    """What is drawn as one, in both weights; ``text`` is what it stands for."""

    text: str
    face: Face
    placed: tuple[tuple[Placed, ...], ...]
    advances: tuple[int, ...]


def pieces(text: str, drawn: frozenset[int]) -> Iterator[str | Cluster]:
    """The line from left to right: letters of ``drawn`` as they are, all others as clusters.

    A letter that no face has comes as it is.
    """
    chosen = _chosen(text, drawn)
    for run in visual_runs(text):
        places = range(run.start, run.stop)
        parts = [(face, list(part)) for face, part in groupby(places, key=chosen.__getitem__)]
        for face, part in parts if run.rightwards else reversed(parts):
            said = text[part[0] : part[-1] + 1]
            if face is None:
                yield from said if run.rightwards else reversed(said.translate(_TURNED))
            else:
                yield from _shaped(said, face, run.rightwards)


def _chosen(text: str, drawn: frozenset[int]) -> list[Face | None]:
    """The face of each letter; None where ``drawn`` (or nothing) has it.

    A mark or joiner goes with the letter before it; a word that is Latin in part comes whole from
    one face; blanks between words of one face are set in it, so that a line of it stays whole.
    """
    country = country_of(text)
    chosen: list[Face | None] = []
    for place, sign in enumerate(text):
        before = chosen[place - 1] if place else None
        if place and (sign in _JOINERS or category(sign) in {"Mn", "Me", "Mc"}):
            fits = before is None or ord(sign) in before.covers or sign in _JOINERS
            chosen.append(before if fits else covering(sign, country))
        elif ord(sign) in drawn:
            chosen.append(None)
        else:
            chosen.append(covering(sign, country, before))
    start = 0
    for blank, part in groupby(text, key=str.isspace):
        stop = start + len(list(part))
        word = chosen[start:stop]
        latin = next((face for face in word if face and face.name == _LATIN), None)
        if not blank and latin:
            chosen[start:stop] = [face if face or ord(text[start + k]) not in latin.covers
                                  else latin for k, face in enumerate(word)]  # fmt: skip
        start = stop
    _join_rightleft(text, chosen)
    return chosen


def _join_rightleft(text: str, chosen: list[Face | None]) -> None:
    """Blanks inside a stretch from right to left are shaped too: the page must not break there."""
    for run in visual_runs(text):
        if run.rightwards:
            continue
        for place in range(run.start + 1, run.stop):
            before = chosen[place - 1]
            if text[place] == " " and before is not None and 32 in before.covers:
                chosen[place] = before


def _shaped(text: str, face: Face, rightwards: bool) -> Iterator[Cluster]:
    weights = [_in_weight(text, face, rightwards, style) for style in STYLES]
    if any(list(weight) != list(weights[0]) for weight in weights):  # a weight that joins otherwise
        weights = [weights[0]] * len(STYLES)
    starts = sorted(weights[0])
    for start in weights[0]:
        stop = next((later for later in starts if later > start), len(text))
        yield Cluster(
            text[start:stop], face,
            tuple(tuple(weight[start][0]) for weight in weights),
            tuple(weight[start][1] for weight in weights),
        )  # fmt: skip


def _in_weight(
    text: str, face: Face, rightwards: bool, style: str
) -> dict[int, tuple[list[Placed], int]]:
    """Clusters by their first letter's place, in the order of the page: glyphs and advance."""
    import uharfbuzz

    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "ltr" if rightwards else "rtl"
    uharfbuzz.shape(face.font(style, UNITS), buffer)
    found: dict[int, tuple[list[Placed], int]] = {}
    for info, where in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        glyphs, advance = found.get(info.cluster, ([], 0))
        glyphs.append(Placed(info.codepoint, advance + where.x_offset, where.y_offset))
        found[info.cluster] = (glyphs, advance + where.x_advance)
    return found
