"""Tables photographed by a pinhole camera, every length on them known in inches.

Unlike :mod:`tests.scenes` the camera is one that could be built: focal length, tilt, turn and a
little lens distortion. Made in linear light; blur, light fall-off, noise and JPEG follow. All of
it is our own invention.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

CARD_IN = (85.60 / 25.4, 53.98 / 25.4)
CARD_RADIUS_IN = 3.18 / 25.4
SHEETS_IN = {
    "letter": (11.0, 8.5),
    "A4": (297 / 25.4, 210 / 25.4),
    "A5": (210 / 25.4, 148 / 25.4),
    "half": (8.5, 5.5),  # ratio 1.545: the sheet most like a card
}
TABLES = {"light": 0.68, "grey": 0.22, "dark": 0.035, "wood": 0.28}
CARDS = ("plain", "dark", "light", "patterned", "printed")
Paint = Callable[[np.ndarray, np.ndarray], np.ndarray]


@dataclass
class Lying:
    """One thing on the table: ``outline`` (n, 2) in inches round its ``corners`` (4, 2)."""

    kind: str
    corners: np.ndarray
    outline: np.ndarray
    paint: Paint
    sides_in: tuple[float, float] = (0.0, 0.0)
    seen: np.ndarray = field(default=None)  # outline in picture pixels


@dataclass
class Camera:
    """``matrix`` (3, 3): inches → pixels before the lens bends them by ``bend`` at the corner."""

    matrix: np.ndarray
    size: tuple[int, int]
    bend: float
    equivalent: float
    tilt: float

    def pixels(self, points: np.ndarray) -> np.ndarray:
        straight = _through(self.matrix, points)
        local = self._local(straight)
        return self._back(local * (1 + self.bend * (local**2).sum(axis=-1, keepdims=True)))

    def inches(self, points: np.ndarray) -> np.ndarray:
        bent = self._local(np.asarray(points, float))
        local = bent
        for _ in range(8):
            local = bent / (1 + self.bend * (local**2).sum(axis=-1, keepdims=True))
        return _through(np.linalg.inv(self.matrix), self._back(local))

    def _local(self, points: np.ndarray) -> np.ndarray:
        return (points - np.array(self.size) / 2) / (np.hypot(*self.size) / 2)

    def _back(self, local: np.ndarray) -> np.ndarray:
        return local * (np.hypot(*self.size) / 2) + np.array(self.size) / 2


@dataclass
class Photographed:
    """``picture`` (h, w, 3) sRGB before JPEG, and the truth."""

    picture: np.ndarray
    lying: list[Lying]
    camera: Camera

    def of(self, kind: str) -> list[Lying]:
        return [one for one in self.lying if one.kind == kind]

    def save(self, path: Path, quality: int = 90) -> None:
        exif = Image.Exif()
        Image.fromarray(self.picture).save(path, "JPEG", quality=quality, exif=exif)


def photographed(
    seed: int,
    sheet: str | None = None,
    card: str | None = "printed",
    side: int = 2600,
    scraps: int = 8,
    alike: int = 1,
    table: str | None = None,
    tilt: float = 25.0,
    bend: float = 0.02,
    cards: int = 1,
    swollen: float = 1.0,
    square: bool = False,
) -> Photographed:
    """A table of ``scraps``, ``alike`` of them shaped like a card, seen at ``side`` pixels.

    ``swollen``: the card is that many times as large as a card is, radius and all. ``square``:
    its corners are not round.
    """
    rng = np.random.default_rng([seed, 31])
    kind = table or list(TABLES)[rng.integers(4)]
    size = (side, side * 3 // 4) if rng.random() < 0.7 else (side * 3 // 4, side)
    camera = _camera(rng, size, rng.uniform(22, 34), tilt, bend)
    lying: list[Lying] = []
    if sheet:
        _lay(rng, lying, camera, "sheet", SHEETS_IN[sheet], _paper(rng))
    for _ in range(cards if card else 0):
        large = (CARD_IN[0] * swollen, CARD_IN[1] * swollen)
        _lay(rng, lying, camera, "card", large, _card_paint(rng, card))
    if square:
        for one in lying:
            one.outline = _dense(one.corners)
    for k in range(scraps):
        _lay(rng, lying, camera, "scrap", _scrap_size(rng, k < alike), _cloth(rng))
    linear = _table(rng, kind, size)
    for one in lying:
        _draw(rng, linear, one, camera)
    return Photographed(_developed(rng, linear, side), lying, camera)


def _through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    moved = points @ matrix[:, :2].T + matrix[:, 2]
    return moved[..., :2] / moved[..., 2:]


def _camera(rng, size, across, tilt, bend) -> Camera:
    """Looks at the table's origin from where ``across`` inches fill the long side."""
    equivalent = rng.uniform(24, 28)
    focal = equivalent / np.hypot(36, 24) * np.hypot(*size)
    lean, towards, turn = np.radians(tilt) * rng.random(), *rng.uniform(0, 2 * np.pi, 2)
    spin = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    u = np.array([np.cos(towards), np.sin(towards), 0])
    cross = np.array([[0, 0, u[1]], [0, 0, -u[0]], [-u[1], u[0], 0]])
    rotation = np.eye(3) + np.sin(lean) * cross + (1 - np.cos(lean)) * cross @ cross
    rotation = rotation @ spin
    away = np.array([0, 0, focal * across / max(size)])
    middle = np.array(size) * (0.5 + rng.normal(0, 0.005, 2))
    inner = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1]])
    matrix = inner @ np.column_stack([rotation[:, :2], away])
    bent = rng.uniform(-bend, bend)
    return Camera(matrix / matrix[2, 2], size, bent, equivalent, float(np.degrees(lean)))


def _scrap_size(rng, alike: bool) -> tuple[float, float]:
    if alike:
        long = rng.uniform(2.5, 8)
        return long, long / (1.586 * rng.uniform(0.97, 1.03))
    long = rng.uniform(3, 9)
    return long, max(1.25, long / rng.choice([rng.uniform(1, 2.2), rng.uniform(2.5, 5)]))


def _lay(rng, lying, camera, kind, sides, paint) -> None:
    """At a free place that the picture shows whole, at any turn."""
    width, height = camera.size
    reach = camera.inches(np.array([[0, 0], [width, 0], [width, height], [0, height]], float))
    for _ in range(300):
        angle = rng.uniform(0, np.pi)
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * sides
        corners = half @ turn + rng.uniform(reach.min(axis=0), reach.max(axis=0))
        there = camera.pixels(corners)
        shown = (there > 0.02 * width).all() and (there < np.array(camera.size) * 0.98).all()
        if shown and all(_apart(corners, other.corners, 0.3) for other in lying):
            lying.append(Lying(kind, corners, _outline(rng, kind, corners), paint))
            return


def _apart(a, b, gap) -> bool:
    """Whether a side's direction parts two rectangles."""
    for shape in (a, b):
        for k in range(2):
            axis = (shape[k + 1] - shape[k]) / np.linalg.norm(shape[k + 1] - shape[k])
            if (a @ axis).max() + gap < (b @ axis).min() or (b @ axis).max() + gap < (
                a @ axis
            ).min():
                return True
    return False


def _outline(rng, kind, corners) -> np.ndarray:
    if kind == "card":
        by = np.linalg.norm(corners[1] - corners[0]) / CARD_IN[0]
        return _rounded(corners, CARD_RADIUS_IN * by)
    if kind == "sheet":
        return _dense(corners)
    how = rng.choice(["straight", "askew", "ragged"], p=[0.45, 0.35, 0.2])
    if how == "straight":
        return _dense(corners)
    if how == "askew":  # cut by hand: each corner off by up to an eighth of an inch or so
        corners += rng.normal(0, 0.012, (4, 2)) * np.linalg.norm(corners[2] - corners[0])
        return _dense(corners)
    points = _dense(corners, 0.1)
    wander = gaussian_filter(rng.normal(0, 1, len(points)), 4, mode="wrap")
    wander *= rng.uniform(0.02, 0.06) / wander.std()
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    return points + normal / np.linalg.norm(normal, axis=1, keepdims=True) * wander[:, None]


def _dense(corners, step=0.25) -> np.ndarray:
    """Points along the sides, so that a lens can bend them."""
    parts = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = max(2, int(np.linalg.norm(b - a) / step))
        parts.append(a + (b - a) * np.linspace(0, 1, count, endpoint=False)[:, None])
    return np.concatenate(parts)


def _rounded(corners, radius) -> np.ndarray:
    points = []
    for k in range(4):
        here, before, after = corners[k], corners[k - 1], corners[(k + 1) % 4]
        u = (before - here) / np.linalg.norm(before - here)
        v = (after - here) / np.linalg.norm(after - here)
        t = np.linspace(0, np.pi / 2, 13)[:, None]
        points.append(here + (u + v) * radius - radius * (np.cos(t) * v + np.sin(t) * u))
    return _dense(np.concatenate(points))


# ── paints: inches on the thing (its centre 0, 0) → linear light ──────────────────────────


def _paper(rng) -> Paint:
    white = rng.uniform(0.78, 0.9) * rng.uniform(0.97, 1.0, 3)
    return lambda u, v: np.broadcast_to(white, (*u.shape, 3))


def _card_paint(rng, kind) -> Paint:
    levels = {"dark": (0.01, 0.05), "light": (0.6, 0.85)}.get(kind, (0.03, 0.6))
    one, two = rng.uniform(*levels, 3), rng.uniform(*levels, 3)
    print_rows = np.sort(rng.uniform(-0.8, 0.8, 3))

    def paint(u, v):
        mix = np.zeros(u.shape)
        if kind == "patterned":
            mix = (np.sin(5 * u + 3 * v) + np.sin(7 * v - 2 * u) > 0.3).astype(float)
        elif kind == "printed":
            mix = 0.5 + 0.5 * np.tanh((u + 0.7 * v) * 1.2)
        out = one + (two - one) * mix[..., None]
        if kind == "printed":
            chip = (abs(u + 1.0) < 0.23) & (abs(v) < 0.19)
            out = np.where(chip[..., None], [0.6, 0.5, 0.25], out)
            for row in print_rows:
                on = (abs(v - row) < 0.06) & (abs(u) < 1.3) & ((u * 9) % 1 < 0.6)
                out = np.where(on[..., None], 0.8, out)
        return out

    return paint


def _cloth(rng) -> Paint:
    ground, ink = rng.uniform(0.02, 0.75) * rng.uniform(0.3, 1, (2, 3)) ** rng.uniform(0.5, 2)
    period, turn = rng.uniform(0.25, 0.9), rng.uniform(0, np.pi)
    kind = rng.choice(["solid", "dots", "stripes", "check", "waves"])

    def paint(u, v):
        p = (u * np.cos(turn) + v * np.sin(turn)) / period
        q = (v * np.cos(turn) - u * np.sin(turn)) / period
        on = {
            "solid": np.zeros(u.shape, bool),
            "dots": np.hypot(p % 1 - 0.5, q % 1 - 0.5) < 0.3,
            "stripes": p % 1 < 0.45,
            "check": (p % 1 < 0.5) ^ (q % 1 < 0.5),
            "waves": np.sin(2 * p) + np.sin(3 * q + p) > 0.4,
        }[kind]
        weave = 1 + 0.06 * np.sin(u * 90) * np.sin(v * 90)
        return np.where(on[..., None], ink, ground) * weave[..., None]

    return paint


def _table(rng, kind, size) -> np.ndarray:
    width, height = size
    tint = np.array([1.35, 0.95, 0.6]) if kind == "wood" else rng.uniform(0.93, 1.07, 3)
    base = TABLES[kind] * tint * rng.uniform(0.85, 1.1)
    across = (2, 60) if kind == "wood" else (1.5, 1.5)
    grain = gaussian_filter(rng.normal(0, 1, (height, width)).astype(np.float32), across)
    grain *= (rng.uniform(0.08, 0.2) if kind == "wood" else rng.uniform(0.004, 0.02)) / grain.std()
    return (base * np.exp(grain[..., None])).astype(np.float32)


def _draw(rng, linear, one, camera, over=4) -> None:
    one.seen = camera.pixels(one.outline)
    one.sides_in = tuple(sorted(_like_a_rectangle(one.outline), reverse=True))
    x0, y0 = np.maximum(np.floor(one.seen.min(axis=0)).astype(int) - 9, 0)
    x1, y1 = np.minimum(np.ceil(one.seen.max(axis=0)).astype(int) + 10, camera.size)
    fine = _filled((one.seen - [x0, y0]) * over, (x1 - x0) * over, (y1 - y0) * over)
    cover = fine.reshape(y1 - y0, over, x1 - x0, over).mean(axis=(1, 3))
    here = linear[y0:y1, x0:x1]
    wide = camera.size[0] / 1000
    shade = gaussian_filter(np.roll(cover, (round(wide), round(wide)), (0, 1)), wide)
    here *= 1 - rng.uniform(0.0, 0.2) * (shade * (1 - cover))[..., None]
    x, y = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    flat = camera.inches(np.stack([x, y], axis=-1)) - one.corners.mean(axis=0)
    axis = one.corners[1] - one.corners[0]
    axis = axis / np.linalg.norm(axis)
    colour = one.paint(flat @ axis, flat @ np.array([-axis[1], axis[0]]))
    here += cover[..., None] * (colour - here)


def _filled(outline, width, height) -> np.ndarray:
    """Pixels whose centre lies in the polygon: each row is switched where a side crosses it."""
    switches = np.zeros((height, width + 1), np.int8)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        low, high = sorted((y0, y1))
        rows = np.arange(max(int(np.ceil(low - 0.5)), 0), min(int(np.ceil(high - 0.5)), height))
        x = x0 + (rows + 0.5 - y0) * (x1 - x0) / (y1 - y0) if len(rows) else np.zeros(0)
        columns = np.clip(np.ceil(x - 0.5), 0, width).astype(int)
        switches[rows, columns] ^= 1
    return np.bitwise_xor.accumulate(switches[:, :width], axis=1).astype(np.float32)


def _like_a_rectangle(outline) -> np.ndarray:
    """Sides of the rectangle with the outline's area and second moments, by a fine grid."""
    low, span = outline.min(axis=0), np.ptp(outline, axis=0).max()
    cells = 1200
    y, x = np.nonzero(_filled((outline - low) / span * cells, cells + 1, cells + 1))
    values = np.linalg.eigvalsh(np.cov(np.stack([x, y])))
    ratio = np.sqrt(values[1] / values[0])
    long = np.sqrt(_area(outline) * ratio)
    return np.array([long, long / ratio])


def _area(outline) -> float:
    x, y = outline.T
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2


def _developed(rng, linear, side) -> np.ndarray:
    height, width = linear.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    at = rng.uniform(0.1, 0.9, 2) * [width, height]
    far = np.hypot(x - at[0], y - at[1]) / np.hypot(width, height)
    lit = linear * (1 - rng.uniform(0.05, 0.35) * far[..., None]) * rng.uniform(0.9, 1.1, 3)
    lit = gaussian_filter(lit.astype(np.float32), (rng.uniform(0.6, 1.0),) * 2 + (0,))
    grainy = rng.normal(0, 1, lit.shape).astype(np.float32)
    lit += grainy * 0.006 * np.sqrt(np.clip(lit, 0.01, 1))
    lit = np.clip(lit, 0, 1)
    srgb = np.where(lit <= 0.0031308, 12.92 * lit, 1.055 * lit ** (1 / 2.4) - 0.055)
    return np.rint(srgb * 255).astype(np.uint8)
