"""How likely each smooth quadrilateral is the sheet or the grey card, weighed together.

There is at most one reference in a photo, so the candidates compete with each other and with
'none of them': a conditional logit (McFadden 1974) over all that is known of a candidate. Paper is
smoother than cloth, beside the picture's own noise and beside all else in it; its sides are
straight and mostly stand in a known ratio; its cast must be one that lamps and white balances give
and fit what the rest of the picture shows; nothing outshines a sheet (a reflectance above 1 is
impossible: compare Forsyth 1990), least of all what lies near it in the same light, and a grey card
is a fifth as light. What weights cannot say of a card, trees add. Both were fitted by
benchmarks/photo/fit_reference.py on simulated photos whose seeds are below 5000.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_linear
from sequencer.models import Pixels
from sequencer.photo.reference.quads import Quad
from sequencer.photo.reference.trees import added

Floats = NDArray[np.floating]

_RATIOS = np.log([11 / 8.5, 2**0.5])  # letter paper, and the A series of ISO 216
# All chosen; what is weighed of them is fitted.
_BLOCK = 8  # analysis pixels
_EVERY = 8  # pixels
_WHITE_OVER_GREY = 6.0  # linear light of white over a card's of 18 %, and room for gloss
_UNLIKE_GROUND = 0.3  # log units in a channel
_FEWEST = 50  # pixels
_DARK = 0.003  # linear light, so that logs exist
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)  # IEC 61966-2-1
_OUTSHONE = (1.6, 1.25)  # times as light
_BRIGHTEST, _STRONGEST = 0.99, 0.98  # quantiles: of luminance, of each channel
_BLACK, _LEAST_BRIGHT = 1e-4, 1e-4  # linear light, so that logs exist
_QUIETEST = 20  # one block in so many is as quiet as the picture gets
_HALF_SIDE = 0.3  # of a quadrilateral's span, to either side of its middle, where grain is measured
_NEAR_OUTSHONE, _FARTHER = 1.12, 0.8  # times as light close by, and more for each diagonal away
_CARD_BELOW = 1.5  # log units that an 18 % card lies below the lightest thing, about
_SAME_SIZE, _SAME_COLOUR = 0.5, 0.06  # log of areas and encoded values of what comes again
# What brings features to about one for the fit, and where they are held still. The weights below
# were fitted to these: one changed without the other says nothing.
_SQUARED, _ROOT, _LOG, _LESS, _NEARBY = 10.0, 5.0, 3.0, 3.0, 4.0
_HELD_CAST, _HELD_SHEET_CAST = 1.0, 0.7  # log units
_GRAIN, _WOVEN, _MOST_WOVEN = 0.1, 0.15, 2.5  # of L*, of 255ths; log of grain over the quietest
_USUAL_AREA = 0.05  # share of the picture
_RATIO_OFF, _FILL_OFF, _PART, _LONG = 0.25, 0.25, 0.05, 0.6  # log of ratios; share not filled
_MUCH, _LITTLE = 0.2, 0.3  # share of the picture that outshines it
_SHEET_DARK, _CARD_DARK = 0.02, 0.005  # linear light of a channel
_SHEET_DARKEST, _DIMMEST = 0.2, -1.5  # luminance; log of it over the lightest thing's
_CARD_LIGHT, _CARD_LIGHTER, _FAR_OFF = 0.25, 0.3, 4.0  # luminance, beyond it; squares of logs
_COMMON, _SIZE_AND_SIDES = 25, [1, 2, 9]  # columns of features: how many both kinds have; which
SHEET_WEIGHTS = np.array([
    1.36, -0.48, 0.00, -0.15, -2.12, -0.51, -0.46, -1.65, -1.13,
    1.24, -0.61, -0.01, -0.44, 0.14, 0.17, -0.67, -0.38, -0.61, -0.16,
    0.15, 0.13, -0.06, 0.35, 0.79, -1.07, 1.32, -1.22, -0.58, -0.97,
    -0.73, 0.35, -0.38,
])  # fmt: skip
"""Log odds for each of what :func:`features` tells of a sheet, in its order; fitted, see above."""
GREY_WEIGHTS = np.array([
    3.29, -0.49, -0.44, -0.68, -1.79, 0.00, -0.56, -0.49, -0.47,
    0.79, -0.63, -0.31, -0.64, 0.19, -1.86, -1.05, -0.64, -1.12, -0.31,
    0.21, 0.23, -0.02, 0.64, 0.61, -0.82, -0.92, -2.08, 0.22, -1.16,
    -0.40, 0.07,
])  # fmt: skip
"""The same for a card."""


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What the whole picture shows, linear sRGB: every eighth pixel ``lit`` (3, n).

    ``places`` (n, 2): where those are, in diagonals of the picture. ``brightest``: 99 % quantile of
    luminance. ``strongest``: 98 % quantile of each channel; ``middle``: median; ``mean_log``: mean
    logarithm; ``mean_log_y``: the same of luminance. ``things`` (2,): mean log of red and of blue
    over green of what differs from the middle, so mostly from the table. ``grains`` (k,): scatter
    in small blocks all over the picture, sorted.
    """

    lit: Floats
    places: Floats
    brightest: float
    strongest: Floats
    middle: Floats
    mean_log: Floats
    mean_log_y: float
    things: Floats
    grains: Floats


def surroundings(pixels: Pixels) -> Surroundings:
    """Of analysis pixels (h, w, 3)."""
    few = pixels[3::_EVERY, 3::_EVERY]
    if not few.size:
        few = pixels[:1, :1]
    lit = np.ascontiguousarray(srgb8_to_linear(few).reshape(-1, 3).T)
    y = _LUMINANCE @ lit
    diagonal = float(np.hypot(*few.shape[:2]))
    log = np.log(lit + _DARK)
    ground = np.median(log, axis=1)
    things = np.abs(log - ground[:, None]).max(axis=0) > _UNLIKE_GROUND
    if things.sum() < _FEWEST:
        things[:] = True
    places = np.indices(few.shape[:2]).reshape(2, -1).T / diagonal
    return Surroundings(
        lit, places, max(float(np.quantile(y, _BRIGHTEST)), _LEAST_BRIGHT),
        np.quantile(lit, _STRONGEST, axis=1),
        np.median(lit, axis=1), log.mean(axis=1), float(np.log(y + _DARK).mean()),
        _ratios(log[:, things].mean(axis=1)), np.sort(_block_grain(pixels, 3)),
    )  # fmt: skip


def odds(quads: list[Quad], pixels: Pixels) -> tuple[Floats, Floats]:
    """Log odds (n,) of each quadrilateral being the sheet, and the grey card, against neither."""
    if not quads:
        return np.zeros(0), np.zeros(0)
    sheet, grey = features(quads, pixels)
    return sheet @ SHEET_WEIGHTS, grey @ GREY_WEIGHTS + added(asked(sheet, grey))


def asked(sheet: Floats, grey: Floats) -> Floats:
    """What trees may ask of each candidate (n, 35): all of :func:`features` but size and sides.

    How large and how long simulated cards are is nobody's; weights lean on it little enough.
    """
    every = np.column_stack([sheet, grey[:, _COMMON:]])
    return np.asarray(np.delete(every, _SIZE_AND_SIDES, axis=1))


def features(quads: list[Quad], pixels: Pixels) -> tuple[Floats, Floats]:
    """What is weighed, a row for each quadrilateral: as a sheet (n, 32), as a card (n, 31)."""
    seen = surroundings(pixels)
    common = np.array([_common(quad, seen, pixels, quads) for quad in quads])
    sheet = np.column_stack([common, [_as_sheet(quad, seen, pixels) for quad in quads]])
    grey = np.column_stack([common, [_as_grey(quad, seen) for quad in quads]])
    return sheet, grey


def _common(quad: Quad, seen: Surroundings, pixels: Pixels, quads: list[Quad]) -> list[float]:
    """Shape, smoothness, and cast alone and beside the picture's."""
    red, blue = _cast(quad.linear)
    world = _held(_ratios(seen.mean_log) - [red, blue], _HELD_CAST)
    middle = _held(_cast(seen.middle + _DARK) - [red, blue], _HELD_CAST)
    things = _held(seen.things - [red, blue], _HELD_CAST)
    red, blue = _held(np.array([red, blue]), _HELD_CAST)
    rough = grain(quad, pixels)
    quiet = float(seen.grains[len(seen.grains) // _QUIETEST])
    rank = float(np.searchsorted(seen.grains, rough)) / max(1, len(seen.grains))
    return [
        1.0, *_shape(quad), np.log(quad.texture + _GRAIN), np.log(rough + _WOVEN),
        min(float(np.log((rough + _GRAIN) / (quiet + _GRAIN))), _MOST_WOVEN), rank,
        float(sum(alike(quad, other) for other in quads) > 1), np.log(quad.area / _USUAL_AREA),
        *_squares(red, blue), red, blue, *_squares(*world), *_squares(*middle)[:2],
        *_squares(*things), *things,
    ]  # fmt: skip



def _squares(red: float, blue: float) -> tuple[float, float, float]:
    return _SQUARED * red**2, _SQUARED * blue**2, _SQUARED * red * blue


def _as_sheet(quad: Quad, seen: Surroundings, pixels: Pixels) -> list[float]:
    """How much outshines it, near and far, and how its cast stands to the lightest things'."""
    least = np.maximum(quad.linear, _SHEET_DARK)
    over = _over(seen.lit, least)
    much, little = (float((over > by).mean()) for by in _OUTSHONE)
    # Light falls off with the distance: what is near must not outshine a sheet at all.
    centre = quad.corners.mean(axis=0)[::-1] / np.hypot(*pixels.shape[:2])
    apart = np.hypot(*(seen.places - centre).T)
    near = float((over > _NEAR_OUTSHONE + _FARTHER * apart).mean())
    red, blue = _held(_cast(seen.strongest) - _cast(quad.linear), _HELD_SHEET_CAST)
    return [
        _LOG * max(float(np.log(quad.luminance / seen.brightest)), _DIMMEST),
        _ROOT * min(much, _MUCH) ** 0.5, _LESS * min(little, _LITTLE) ** 0.5,
        _NEARBY * min(near, _LITTLE) ** 0.5,
        *_squares(red, blue)[:2], np.log(max(quad.luminance, _SHEET_DARKEST)),
    ]  # fmt: skip


def _as_grey(quad: Quad, seen: Surroundings) -> list[float]:
    """How its lightness stands to the lightest things', the picture's mean and mid-tone."""
    off = float(np.log(quad.luminance / seen.brightest)) + _CARD_BELOW
    above_mean = float(np.log(quad.luminance)) - seen.mean_log_y
    beyond = float((_over(seen.lit, np.maximum(quad.linear, _CARD_DARK)) > _WHITE_OVER_GREY).mean())
    return [
        off, 2 * min(off**2, _FAR_OFF), above_mean,
        _SQUARED * min(max(quad.luminance - _CARD_LIGHT, 0), _CARD_LIGHTER),
        _ROOT * min(beyond, _MUCH) ** 0.5, 2 * min(above_mean**2, _FAR_OFF),
    ]  # fmt: skip


def _shape(quad: Quad) -> list[float]:
    """How far from a sheet's side ratio, and from filling its outline."""
    length = np.hypot(*(np.roll(quad.corners, -1, axis=0) - quad.corners).T)
    ratio = abs(np.log((length[0] + length[2]) / (length[1] + length[3])))
    far = min(float(np.abs(ratio - _RATIOS).min()), _RATIO_OFF)
    long = _ROOT * max(float(ratio) - _LONG, 0.0)
    return [far / _PART, long, min(1 - quad.fill, _FILL_OFF) / _PART]


def alike(one: Quad, other: Quad) -> bool:
    """Whether two may be one thing come again: of one size and colour."""
    size = abs(np.log(one.area / other.area)) < _SAME_SIZE
    return bool(size and np.abs(one.encoded - other.encoded).max() < _SAME_COLOUR)


def grain(quad: Quad, pixels: Pixels) -> float:
    """Median scatter, in 255ths, in 8 × 8 analysis pixels over the quadrilateral's inner part."""
    centre = quad.corners.mean(axis=0)
    # The upright box inside the turned quadrilateral's middle: no mask is needed.
    half = _HALF_SIDE * np.ptp(quad.corners, axis=0)
    left, top = np.maximum(centre - half, 0).astype(int)
    right, bottom = np.maximum(centre + half, 0).astype(int) + 1
    found = _block_grain(pixels[top:bottom, left:right], 1)
    return float(np.median(found)) if len(found) else 0.0


def _block_grain(pixels: Pixels, every: int) -> Floats:
    """Standard deviation of the channels' mean in blocks of 8 × 8, every n-th each way."""
    rows, columns = (side // (_BLOCK * every) for side in pixels.shape[:2])
    if not rows or not columns:
        return np.zeros(1)
    step = _BLOCK * every
    cut = pixels[: rows * step, : columns * step].reshape(rows, step, columns, step, 3)
    red, green, blue = (cut[:, :_BLOCK, :, :_BLOCK, k] for k in range(3))
    blocks = np.add(red, green, dtype=np.float32)
    blocks += blue
    blocks /= 3
    return np.asarray(blocks.std(axis=(1, 3)).ravel())


def _over(lit: Floats, linear: Floats) -> Floats:
    """How many times as light as a colour (3,) each pixel is, in the channel where it is most."""
    red, green, blue = lit / linear[:, None].astype(np.float32)
    return np.asarray(np.maximum(np.maximum(red, green), blue))


def _cast(linear: Floats) -> Floats:
    """Log of red and of blue over green."""
    return _ratios(np.log(np.maximum(linear, _BLACK)))


def _ratios(log: Floats) -> Floats:
    return np.array([log[0] - log[1], log[2] - log[1]])


def _held(values: Floats, limit: float) -> Floats:
    return np.clip(values, -limit, limit)
