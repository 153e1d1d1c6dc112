"""Finding the thing of known colour: a white sheet, a grey card or a 24-patch target.

A sheet or card is a smooth quadrilateral; which one, if any, is weighed in
:mod:`sequencer.photo.reference.evidence`. Unasked, one that is likelier than not is
taken (a wrong one costs about as much as a missed one), and doubt is told either way. Targets are
found by their grid, see :mod:`sequencer.photo.reference.target`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear
from sequencer.errors import PhotoError, UsageError
from sequencer.models import Pixels
from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import view_of
from sequencer.photo.reference.evidence import odds
from sequencer.photo.reference.quads import Quad, smooth_quads
from sequencer.photo.reference.target import Target, find_target, read_target, under_glare

Floats = NDArray[np.floating]

_SQUARE_ENOUGH = 0.72
_SMALLEST = 0.008
_MOST_CAST = 65.0
_ROUGHEST = 2.5
_SURE_UNASKED = 0.5
_SURE_ENOUGH = 0.8
_WORTH_A_WORD = 0.3
_SURE_AT_MOST = 0.7  # of a shape that the weights were not fitted on: large, or covered
_NO_PAPER = 0.1  # luminance, 0 to 1, that even underexposed paper has
_PLAINLY = 2.0  # log odds, after the user's own word, at which a thing is plainly the other kind
_SAID_TO_BE_THERE = 3.0  # log odds that the user's own word adds, fitted like the weights

_LOOKS_LIKE = {"sheet": ("white sheet", "pale scrap"), "grey": ("grey card", "plain scrap")}

_DARKEST = 15
"""L* below which a card is too dark to judge other colours by (an estimate)."""

KINDS = ("auto", "sheet", "grey", "target", "none")


@dataclass(frozen=True, eq=False)
class Reference:
    """What was found. ``kind``: sheet, grey or target.

    ``polygon`` (4, 2): corners in analysis pixels, x, y. ``encoded`` (k, 3): median sRGB, 0 to 1,
    of each measured patch: one row for a sheet or a card, 24 in the target's order. ``centres``
    (k, 2): where they were measured. ``marked``: the user pointed at it.
    ``sure``: how likely it is what it is taken for, 0 to 1. ``lightness``: the card's own L* where
    the user stated it. A target's row of ``encoded`` is NaN where the picture's edge cuts the patch
    off; ``mirrored``: the picture shows it left-handed.
    """

    kind: str
    polygon: Floats
    encoded: Floats
    centres: Floats
    marked: bool = False
    sure: float = 1.0
    lightness: float | None = None
    mirrored: bool = False


def stated(wanted: str) -> tuple[str, float | None]:
    """A reference as typed, ``grey=65``: its kind and, for a card, its L* where it is stated.

    Raises:
        UsageError: it is none of those known, or no card can have this lightness.
    """
    if not isinstance(wanted, str):
        raise UsageError(f"reference {wanted!r} is no text: use one of {', '.join(KINDS)}")
    kind, equals, level = wanted.partition("=")
    if kind not in KINDS or (equals and kind != "grey"):
        raise UsageError(
            f"reference '{wanted}' is not known: use one of {', '.join(KINDS)}, or grey=L for a "
            "card of that lightness, like grey=65"
        )
    try:
        lightness = float(level) if equals else None
    except ValueError:
        lightness = float("nan")
    if lightness is not None and not _DARKEST <= lightness <= 100:
        raise UsageError(
            f"reference '{wanted}': give the card's lightness as L*, {_DARKEST} (dark) to 100 "
            "(white), like grey=65"
        )
    return kind, lightness


def find_reference(
    photo: Photo, wanted: str = "auto", rectangle: Sequence[Sequence[float]] | None = None
) -> Reference | None:
    """Look for the reference ``wanted`` (auto, sheet, grey, target or none) in a photo.

    ``rectangle``: the user's own marking in analysis pixels, two opposite corners or four corners
    in order; with ``auto`` it is read as a target if a target's colours are there, else as a sheet
    or a grey card by its lightness. None when nothing is found or wanted.

    Raises:
        UsageError: ``wanted`` is not one of these, or the rectangle has no area.
        PhotoError: a target was marked whose colours are not there.
    """
    return look_for_reference(photo, wanted, rectangle)[0]


def look_for_reference(
    photo: Photo,
    wanted: str = "auto",
    rectangle: Sequence[Sequence[float]] | None = None,
    without: Sequence[int] = (),
) -> tuple[Reference | None, str | None]:
    """:func:`find_reference`, and in words what is doubtful about what was used or left out.

    What was asked for by name is taken where it is likeliest, however doubtful; the words then say
    where, and where nothing can be it, where was looked and what to type. ``without``: patches of a
    marked target, from 0, that are spoilt.
    """
    wanted, lightness = stated(wanted)
    found, doubt = _looked_for(photo, wanted, rectangle, without)
    return found if found is None else replace(found, lightness=lightness), doubt


def _looked_for(
    photo: Photo,
    wanted: str,
    rectangle: Sequence[Sequence[float]] | None,
    without: Sequence[int],
) -> tuple[Reference | None, str | None]:
    if wanted == "none":
        return None, None
    if rectangle is not None:
        return _marked(photo, wanted, _corners(rectangle), without)
    if wanted in ("auto", "target"):
        target = find_target(photo, closely=wanted == "target")
        if target is not None:
            return _as_reference(target), _how_it_lies(target)
        if wanted == "target":
            return None, _not_found("target", "no grid of 24 such patches anywhere", photo)
    best = _likeliest(photo, wanted)
    if wanted != "auto":
        why = "nothing smooth and pale enough with four straight sides"
        return best, _taken(best, photo) if best else _not_found(wanted, why, photo)
    if best is None:
        return None, None
    used = best.sure >= _SURE_UNASKED
    return best if used else None, _doubt(best, used, photo.factor)


def _as_reference(target: Target, marked: bool = False) -> Reference:
    return Reference(
        "target", target.corners, target.encoded, target.centres, marked, mirrored=target.mirrored
    )


def _how_it_lies(target: Target) -> str | None:
    hidden = int(np.isnan(target.encoded).any(axis=1).sum())
    notes = ["this photo is mirrored, as a selfie camera's is"] if target.mirrored else []
    if target.cast:
        notes.append(
            "the light is so strongly coloured that a quarter of the target's patches lost their "
            "colour: all colours of this photo are far less certain; photograph by daylight, away "
            "from lamps"
        )
    if target.glare:
        notes.append(
            f"of the target's patches {_numbers(target.glare)} seem to lie under glare: if so, "
            f"read it again {_without(target.glare)}"
        )
    if hidden:
        notes.append(f"{hidden} of the target's 24 patches do not show: its colours are less sure")
    return "; ".join(notes) or None


def _numbers(patches: Sequence[int]) -> str:
    return ", ".join(str(one + 1) for one in patches)


def _without(patches: Sequence[int]) -> str:
    return f"with --without-patches {','.join(str(one + 1) for one in patches)}"


_CALLED = {"sheet": "white sheet", "grey": "grey card", "target": "target"}


def _taken(best: Reference, photo: Photo) -> str | None:
    """Where the thing asked for was taken to lie, where that is not plain."""
    if best.sure >= _SURE_ENOUGH:
        return None
    x, y = best.centres[0] * photo.factor
    return (
        f"the {_CALLED[best.kind]} was taken to lie at {x:.0f}, {y:.0f}, about {best.sure:.0%} "
        f"sure; if it lies elsewhere, say where: {_how_to_mark(best.kind)}"
    )


def _not_found(wanted: str, why: str, photo: Photo) -> str:
    width, height = photo.full_size
    return (
        f"no {_CALLED[wanted]} was found, though it was asked for: looked at the whole picture of "
        f"{width} × {height} pixels, {why}; say where it lies by two opposite corners: "
        f"{_how_to_mark(wanted)}"
    )


def _how_to_mark(kind: str) -> str:
    return f"--reference {kind} --marked X,Y X,Y"


def _doubt(best: Reference, used: bool, factor: float) -> str | None:
    if not _WORTH_A_WORD <= best.sure < _SURE_ENOUGH:
        return None
    like, may_be = _LOOKS_LIKE[best.kind]
    x, y = best.centres[0] * factor
    if used:
        return (
            f"something at {x:.0f}, {y:.0f} was taken for a {like}, so the colours hang on it; if "
            f"it is a {may_be}, give the reference as none"
        )
    return (
        f"something at {x:.0f}, {y:.0f} looks like a {like} but may be a {may_be}, so it was not "
        f"used; if it is one, give the reference as {best.kind} or mark it"
    )


# ── sheet and grey card ───────────────────────────────────────────────────────────────────


def _likeliest(photo: Photo, wanted: str) -> Reference | None:
    """The likeliest sheet or card, however doubtful where it was asked for."""
    best = _best(photo, candidates(photo), wanted)
    if wanted == "auto" or (best is not None and best.sure >= _SURE_UNASKED):
        return best
    everything = [quad for quad in smooth_quads(view_of(photo), True) if _could_be(quad, wanted)]
    other = _best(photo, everything, wanted)
    if other is None or (best is not None and best.sure > other.sure):
        return best
    return replace(other, sure=min(other.sure, _SURE_AT_MOST))


def _best(photo: Photo, quads: list[Quad], wanted: str) -> Reference | None:
    """The likeliest of ``quads``; what is plainly the other kind is left out of one asked for."""
    if not quads:
        return None
    asked = wanted != "auto"
    offered = dict(zip(("sheet", "grey"), odds(quads, photo.pixels), strict=True))
    if asked:
        offered[wanted] = offered[wanted] + _SAID_TO_BE_THERE
    shares = _shares(np.concatenate(list(offered.values())))
    open_to = np.repeat([not asked or kind == wanted for kind in offered], len(quads))
    if asked:
        other = offered["grey" if wanted == "sheet" else "sheet"] - offered[wanted]
        open_to &= np.tile(other < _PLAINLY, 2)
    if not open_to.any():
        return None
    best = int(np.argmax(np.where(open_to, shares.round(6), -1.0)))
    kind, quad = list(offered)[best // len(quads)], quads[best % len(quads)]
    centre = quad.corners.mean(axis=0)[None]
    return Reference(kind, quad.corners, quad.encoded[None], centre, sure=float(shares[best]))


def _could_be(quad: Quad, wanted: str) -> bool:
    """Of no strong colour, and not black where a white sheet is meant."""
    return quad.chroma < _MOST_CAST and (wanted != "sheet" or quad.luminance > _NO_PAPER)


def candidates(photo: Photo) -> list[Quad]:
    """The quadrilaterals that could be a sheet or a card at all."""
    return _alone([quad for quad in smooth_quads(view_of(photo)) if _plausible(quad)])


def _shares(log_odds: Floats) -> Floats:
    """Probability of each, the rest of 1 being that of none."""
    top = max(0.0, float(log_odds.max()))
    weight = np.exp(log_odds - top)
    return np.asarray(weight / (weight.sum() + np.exp(-top)))


def _plausible(quad: Quad) -> bool:
    square = quad.fill > _SQUARE_ENOUGH and quad.area > _SMALLEST
    return square and quad.chroma < _MOST_CAST and quad.texture < _ROUGHEST and quad.luminance > 0


def _alone(quads: list[Quad]) -> list[Quad]:
    """Without those with more than one double: a motif comes again and again, a reference once."""

    def alike(a: Quad, b: Quad) -> bool:
        size = abs(np.log(a.area / b.area)) < 0.5
        return bool(size and np.abs(a.encoded - b.encoded).max() < 0.06)

    return [q for q in quads if sum(alike(q, other) for other in quads) <= 2]


# ── the user's own marking ────────────────────────────────────────────────────────────────


def _corners(rectangle: Sequence[Sequence[float]]) -> Floats:
    points = np.asarray(rectangle, dtype=float)
    if points.shape == (2, 2):
        (x0, y0), (x1, y1) = np.sort(points, axis=0)
        points = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    if points.shape != (4, 2):
        raise UsageError("mark the reference by two opposite corners or by four corners in order")
    x, y = points.T
    area = (np.dot(y, np.roll(x, 1)) - np.dot(x, np.roll(y, 1))) / 2
    if abs(area) < 16:
        raise UsageError("the marked reference is smaller than 16 pixels: mark a larger area")
    return points if area > 0 else points[::-1]  # clockwise as seen, however they were typed


def _marked(
    photo: Photo, wanted: str, corners: Floats, without: Sequence[int]
) -> tuple[Reference | None, str | None]:
    if wanted in ("auto", "target"):
        target = read_target(photo.pixels, corners, without)
        if target is not None:
            return _as_reference(target, marked=True), _how_it_lies(target)
        if wanted == "target":
            raise PhotoError(photo.name, _no_target(photo, corners))
    encoded = _inner_median(photo.pixels, corners)
    kind = wanted
    if wanted == "auto":
        kind = "sheet" if srgb_to_linear(encoded).mean() > 0.4 else "grey"
    centre = corners.mean(axis=0)[None]
    return Reference(kind, corners, encoded[None], centre, marked=True), None


def _no_target(photo: Photo, corners: Floats) -> str:
    glare = under_glare(photo.pixels, corners)
    if glare:
        return (
            "the marked area does not show the 24 patches of a target, as patches "
            f"{_numbers(glare)} seem to lie under glare; read it {_without(glare)}, or photograph "
            "it again"
        )
    return (
        "the marked area does not show the 24 patches of a target; mark its outer corners, or mark "
        "a white sheet or grey card instead"
    )


def _inner_median(pixels: Pixels, corners: Floats) -> Floats:
    """Median sRGB of the inner 60 % of a quadrilateral, on a 40 × 40 grid."""
    u, v = np.meshgrid(np.linspace(0.2, 0.8, 40), np.linspace(0.2, 0.8, 40))
    weights = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1)
    x, y = np.moveaxis(weights @ corners, -1, 0)
    rows = np.clip(y.astype(int), 0, pixels.shape[0] - 1)
    columns = np.clip(x.astype(int), 0, pixels.shape[1] - 1)
    return np.asarray(np.median(pixels[rows, columns].reshape(-1, 3), axis=0) / 255)
