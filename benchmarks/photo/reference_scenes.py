"""Simulated photos with references of many sizes, shapes and places, for fit_reference.py.

tests/made/simulator.py lays every reference into a cell of its own, whole and as letter or A4
paper. Here it covers 1.5 to 20 % of the picture, has any side ratio, is turned and seen aslant, now
and then cut off by the picture's edge or partly under a scrap; there are plain pale scraps, smooth
cards, other picture sizes, more noise and stronger JPEG.
"""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.made import simulator

SIZES = ((640, 480), (800, 600), (960, 720), (720, 960), (1300, 975), (1300, 867), (975, 1300))
MOST_COVERED = 0.12


@dataclass
class Varied:
    """``pixels`` (h, w, 3); ``reference`` (h, w): where it shows, None without one."""

    pixels: np.ndarray
    reference: np.ndarray | None


@dataclass
class _Laid:
    """A picture in the making: what ink lies where, the inks, and the shade."""

    labels: np.ndarray
    pool: list[np.ndarray]
    shade: np.ndarray


def varied(seed: int, kind: str) -> Varied:
    """A photo with ``kind`` (sheet, grey, none) in it; all of it comes from the seed."""
    rng = np.random.default_rng([seed, 501])
    width, height = SIZES[rng.integers(len(SIZES))]
    table = rng.choice(simulator.TABLES, p=(0.6, 0.25, 0.15))
    laid = _Laid(
        np.zeros((height, width), int), [], simulator._table_shade(rng, table, height, width)
    )
    laid.pool.append(simulator._table_reflectance(rng))
    count = int(rng.integers(3, 15))
    cells = simulator._cells(rng, count, width, height)
    corners = None
    if kind != "none":
        corners, long = _reference(rng, kind, width, height)
        near = 0.4 * long
        centre = corners.mean(axis=0)
        cells = [
            cell for cell in cells
            if np.hypot(*(cell[:2] - centre)) > near + 0.25 * min(cell[2], cell[3])
        ]
    below = rng.random() < 0.5
    label = _lay(rng, laid, corners, kind) if corners is not None and below else None
    for cell in cells[: max(2, count - 1)]:
        _scrap(rng, laid, cell, label)
    if corners is not None and not below:
        label = _lay(rng, laid, corners, kind)
    reflectance = np.clip(np.stack(laid.pool), 0.01, 0.98)
    phone, own = simulator.USUAL_PHONE, np.random.default_rng([seed, 502])
    pixels, _ = simulator._photograph(rng, reflectance, laid.labels, laid.shade, phone, own)
    return Varied(_worse(rng, pixels), None if label is None else laid.labels == label)


def _reference(rng, kind, width, height):
    """Corners of the reference and its long side."""
    room = np.array([width, height])
    share = np.exp(rng.uniform(np.log(0.015), np.log(0.2)))
    if kind == "sheet":
        ratio = rng.choice([1.294, 1.414]) if rng.random() < 0.4 else rng.uniform(1, 1.8)
    else:
        ratio = rng.uniform(1, 1.6)
    long = np.sqrt(share * width * height * ratio)
    reach = room * 0.5 - np.minimum(long * 0.55, room * 0.48)
    centre = room / 2 + rng.uniform(-1, 1, 2) * reach
    if rng.random() < 0.12:  # cut off by the picture's edge
        side, far = rng.integers(2), rng.random() < 0.5
        inward = long / ratio * rng.uniform(0.25, 0.45)
        centre[side] = room[side] - inward if far else inward
    return _turned(rng, centre, long, ratio, 0.04), long


def _turned(rng, centre, long, ratio, tilt):
    half = np.array([long, long / ratio]) / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    corners = corners + rng.uniform(-tilt, tilt, (4, 2)) * half.min()
    turn = rng.choice([rng.normal(0, np.deg2rad(8)), rng.uniform(0, np.pi)])
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return corners @ spin.T + centre


def _lay(rng, laid, corners, kind):
    inside = simulator._inside(corners, laid.labels.shape)
    laid.shade[inside] = np.exp(rng.uniform(0, 0.01) * rng.normal(size=inside.sum()))
    label = len(laid.pool)
    laid.labels[inside] = label
    if kind == "grey":
        laid.pool.append(np.full(31, rng.uniform(0.17, 0.2)))
    else:
        tint = rng.uniform(-0.02, 0.03) * (550 - simulator.WAVELENGTHS) / 150
        laid.pool.append(rng.uniform(0.82, 0.93) * (1 - tint))
    return label


def _scrap(rng, laid, cell, label):
    """A scrap, unless it would cover too much of the reference."""
    before = laid.labels.copy(), laid.shade.copy()
    kind = rng.random()
    if kind < 0.12:
        _plain_pale(rng, laid, cell)
    elif kind < 0.15:
        inside = simulator._inside(
            _turned(rng, cell[:2], min(cell[2], cell[3]) * 0.6, 1.586, 0.02), laid.labels.shape
        )
        laid.labels[inside], laid.shade[inside] = len(laid.pool), 1.0
        laid.pool.append(simulator._ink(rng))
    else:
        simulator._place_scrap(rng, cell, laid.labels, laid.pool, laid.shade, (0.75, 0.95))
    if label is None:
        return
    there = before[0] == label
    if there.any() and (there & (laid.labels != label)).sum() > MOST_COVERED * there.sum():
        laid.labels[:], laid.shade[:] = before


def _plain_pale(rng, laid, cell):
    inside = simulator._inside(
        simulator._box(rng, cell, rng.uniform(1, 1.8), (0.6, 0.95)), laid.labels.shape
    )
    laid.labels[inside] = len(laid.pool)
    slope = rng.normal(0, 0.12) * (simulator.WAVELENGTHS - 550) / 150
    laid.pool.append(np.clip(rng.uniform(0.45, 0.86) * np.exp(slope), 0.02, 0.9))
    weave = 1 + rng.uniform(0.01, 0.05) * simulator._weave(rng, inside.shape)
    laid.shade[inside] = weave[inside]


def _worse(rng, pixels):
    """Half of them with more noise and a second, stronger JPEG."""
    if rng.random() < 0.5:
        return pixels
    noisy = pixels + rng.normal(size=pixels.shape) * rng.uniform(0, 4)
    stream = io.BytesIO()
    Image.fromarray(np.clip(noisy, 0, 255).round().astype(np.uint8)).save(
        stream, "JPEG", quality=int(rng.integers(60, 95))
    )
    return np.asarray(Image.open(stream).convert("RGB"))
