"""Prints whose sequence is known: makers for ``transition.py`` and for the tests.

Every print has a main colour (55 %), 17 % of each neighbour's main colour and 12 to 38 % of
accents of its own, in two ways of adding up: the main colour gives way (``rest``), or everything
is scaled to one (``scaled``). Then it is measured as badly as a photograph would: every colour
shifted, shares stretched, large clusters split, near ones merged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import (
    ciede2000,
    hyab,
    lab_to_xyz,
    linear_to_xyz,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.models import PaletteColour, Print

Floats = NDArray[np.floating]
Random = np.random.Generator

HANDED = 0.17
MOST_COLOURS = 6
MERGE = 6.0
"""ΔE00 below which two clusters come out as one."""
_GAIN_PER_NOISE = 0.04
"""Log gain for one unit of noise: about one ΔE of a mid grey."""
SHARED_ACCENTS = np.array([[95, 0, 5], [20, 5, 5], [60, 60, 40], [35, 20, -50], [80, 0, 75]], float)


@dataclass(frozen=True)
class Maker:
    """How a set is made.

    ``scheme``: how main colours run (see :func:`main_colours`). ``accent``: share, from and to.
    ``accents``: any colour, one of five that many prints share, or of the scheme's own family.
    ``adding``: rest or scaled, the latter with ``main`` before scaling. ``dominant``: whether the
    main colour is one; otherwise it is parted into two shades. ``handed``: what is handed over:
    the neighbour's main colour, or a colour of the pair's own. ``noise``: of each colour's
    channels, one unit about one ΔE; ``stretch``: of the log of each share. ``clusters``: whether
    to split and merge.
    """

    scheme: str = "hue"
    accent: tuple[float, float] = (0.12, 0.38)
    accents: str = "any"
    adding: str = "rest"
    main: float = 0.55
    dominant: bool = True
    handed: str = "main"
    noise: float = 1.5
    stretch: float = 0.1
    clusters: bool = True


def make_set(maker: Maker, count: int, loop: bool, random: Random) -> list[Print]:
    """``count`` prints in their true order, ids "0", "1", …"""
    mains = main_colours(maker.scheme, count, loop, random)
    between = _any_colours(random, count)
    prints = []
    for i in range(count):
        labs, shares = _ingredients(maker, mains, between, i, loop, random)
        labs, shares = _measured(maker, labs, shares, random)
        mean = tuple(float(x) for x in shares @ labs)
        if maker.clusters:
            labs, shares = _clustered(labs, shares, random)
        order = np.argsort(-shares, kind="stable")
        palette = tuple(
            PaletteColour(tuple(float(x) for x in labs[k]), float(shares[k])) for k in order
        )
        prints.append(Print(str(i), str(i), f"{i}.jpg", (), mean, palette))
    return prints


def main_colours(scheme: str, count: int, loop: bool, random: Random) -> Floats:
    """(count, 3): a turn of hues, a scale of values, near-greys, two turns, there and back, a
    walk through colour space, or no order at all."""
    at = np.arange(count) / (count if loop else count - 1)
    start, rise = random.uniform(0, 360), 0.5 - 0.5 * np.cos(2 * np.pi * at) if loop else at
    if scheme == "unordered":
        return _any_colours(random, count)
    if scheme == "walk":
        return _walk(random, count)
    if scheme == "hue":
        turn = 360.0 if loop else random.uniform(120, 300)
        lch = 60 + 20 * (rise - 0.5), random.uniform(25, 50), start + turn * at
    elif scheme == "low chroma":
        turn = 360.0 if loop else random.uniform(60, 200)
        lch = 30 + 50 * rise, random.uniform(6, 15), start + turn * at
    elif scheme == "value":
        lch = 20 + 70 * rise, 20 + 10 * np.sin(2 * np.pi * at), start + 60 * at
    elif scheme == "two turns":
        lch = 28 + 55 * rise, 35.0, start + (720 if loop else 600) * at
    elif scheme == "there and back":
        lch = 35 + 45 * rise, 35.0, start + 90 * np.sin(2 * np.pi * at)
    else:
        raise ValueError(scheme)
    lightness, chroma, hue = (np.broadcast_to(part, at.shape) for part in lch)
    angle = np.radians(hue)
    labs = np.stack([lightness, chroma * np.cos(angle), chroma * np.sin(angle)], axis=-1)
    return np.array([_into_gamut(lab) for lab in labs])


def _ingredients(
    maker: Maker, mains: Floats, between: Floats, i: int, loop: bool, random: Random
) -> tuple[Floats, Floats]:
    count = len(mains)
    neighbours = [k % count for k in (i - 1, i + 1) if loop or 0 <= k < count]
    if maker.handed == "main":
        handed = [mains[k] for k in neighbours]
    else:
        handed = [between[i if k == (i + 1) % count else k] for k in neighbours]
    accent = random.uniform(*maker.accent)
    accents = _accents(maker.accents, mains, random)
    parts = [HANDED] * len(handed)
    main = maker.main if maker.adding == "scaled" else max(1 - sum(parts) - accent, 0.08)
    own = [mains[i]]
    if not maker.dominant:
        step = 12.0 if mains[i][0] < 60 else -12.0
        own.append(_into_gamut(mains[i] + np.array([step, 0, 0])))
    shares = [main / len(own)] * len(own) + parts
    shares += list(random.dirichlet(np.full(len(accents), 3.0)) * accent)
    return np.array([*own, *handed, *accents]), np.array(shares)


def _accents(kind: str, mains: Floats, random: Random) -> Floats:
    count = int(random.integers(1, 3))
    if kind == "any":
        return _any_colours(random, count)
    if kind == "shared":
        return SHARED_ACCENTS[random.integers(len(SHARED_ACCENTS), size=count)]
    chroma = float(np.median(np.hypot(mains[:, 1], mains[:, 2])))
    angle = random.uniform(0, 2 * np.pi, count)
    labs = np.stack(
        [random.choice(mains[:, 0], count), chroma * np.cos(angle), chroma * np.sin(angle)], axis=-1
    )
    return np.array([_into_gamut(lab) for lab in labs])


def _measured(
    maker: Maker, labs: Floats, shares: Floats, random: Random
) -> tuple[Floats, Floats]:
    """A photograph's errors: gains of its three channels, which no space of ours is built on."""
    linear = np.clip(xyz_to_linear(lab_to_xyz(labs)), 1e-4, None)
    gains = np.exp(random.normal(size=labs.shape) * maker.noise * _GAIN_PER_NOISE)
    labs = xyz_to_lab(linear_to_xyz(linear * gains))
    shares = shares * np.exp(random.normal(size=len(shares)) * maker.stretch)
    return labs, shares / shares.sum()


def _clustered(labs: Floats, shares: Floats, random: Random) -> tuple[Floats, Floats]:
    """Half of the time the largest cluster comes out as two; near ones come out as one."""
    if random.random() < 0.5:
        big, part = int(shares.argmax()), random.uniform(0.3, 0.7)
        apart = random.normal(size=3) * 4
        labs = np.concatenate([labs, [labs[big] + apart * part]])
        shares = np.append(shares, shares[big] * (1 - part))
        labs[big] -= apart * (1 - part)
        shares[big] *= part
    while len(shares) > 1:
        gaps = ciede2000(labs[:, None], labs[None]) + np.diag(np.full(len(labs), np.inf))
        i, j = np.unravel_index(gaps.argmin(), gaps.shape)
        if gaps[i, j] > MERGE and len(shares) <= MOST_COLOURS:
            break
        both = shares[[i, j]]
        labs = np.concatenate([np.delete(labs, [i, j], 0), [both @ labs[[i, j]] / both.sum()]])
        shares = np.append(np.delete(shares, [i, j]), both.sum())
    return labs, shares


def _walk(random: Random, count: int) -> Floats:
    labs = [_any_colours(random, 1)[0]]
    while len(labs) < count:
        for _ in range(200):
            step = random.normal(size=3)
            lab = labs[-1] + step * random.uniform(15, 30) / np.linalg.norm(step)
            far = len(labs) < 2 or hyab(lab, np.array(labs[:-1])).min() > 20
            if _in_gamut(lab) and far:
                labs.append(lab)
                break
        else:
            labs = [_any_colours(random, 1)[0]]
    return np.array(labs)


def _any_colours(random: Random, count: int) -> Floats:
    labs: list[Floats] = []
    while len(labs) < count:
        lab = np.array([random.uniform(15, 95), *random.uniform(-90, 90, 2)])
        if _in_gamut(lab):
            labs.append(lab)
    return np.array(labs)


def _in_gamut(lab: Floats) -> bool:
    rgb = xyz_to_linear(lab_to_xyz(lab))
    return bool(((rgb > -0.001) & (rgb < 1.001)).all())


def _into_gamut(lab: Floats) -> Floats:
    """The colour with as much of its chroma as sRGB can show."""
    while not _in_gamut(lab):
        lab = lab * np.array([1, 0.93, 0.93])
    return lab


_GROUNDS = np.array([[93, 0, 4], [88, 1, 10], [18, 1, -2], [45, 0, 0], [70, 1, 3]], float)


def print_box(count: int, seed: int) -> list[Print]:
    """A box of prints without any order of its own: a main colour, and one to four others that are
    its kin, a ground that many cloths share, or anything."""
    random = np.random.default_rng([seed, count])
    calm = np.array([1, 0.75, 0.75])
    prints = []
    for i in range(count):
        labs = [_any_colours(random, 1)[0] * calm]
        for _ in range(int(random.integers(1, 5))):
            kind = random.random()
            if kind < 0.45:
                lab = labs[0] + random.normal(size=3) * [18, 8, 8]
                lab[0] = min(max(lab[0], 8), 96)
                labs.append(_into_gamut(lab))
            elif kind < 0.7:
                labs.append(_GROUNDS[random.integers(5)] + random.normal(size=3) * [3, 1, 1])
            else:
                labs.append(_any_colours(random, 1)[0] * calm)
        main = random.uniform(0.35, 0.75)
        shares = np.r_[main, random.dirichlet(np.full(len(labs) - 1, 2.0)) * (1 - main)]
        order = np.argsort(-shares, kind="stable")
        mean = tuple(float(x) for x in shares @ np.array(labs))
        palette = tuple(
            PaletteColour(tuple(float(x) for x in labs[k]), float(shares[k])) for k in order)
        prints.append(Print(f"p{i}", f"p{i}", "box.jpg", (), mean, palette))
    return prints
