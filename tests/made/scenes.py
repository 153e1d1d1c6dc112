"""A seeded maker of table photographs with known truth: scraps, a sheet, a bank card, a camera.

Everything lies in the plane of the table, measured in inches, and is seen through a homography.
Colours are made in linear light and pass lens blur, light fall-off, cast, noise and JPEG. All of
it is our own invention; nothing in it is taken from the program under test.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
from PIL import Image, ImageDraw, ImageFilter
from scipy.ndimage import gaussian_filter, map_coordinates

CARD_IN = (85.60 / 25.4, 53.98 / 25.4)
CARD_RADIUS_IN = 3.18 / 25.4
LETTER_IN = (11.0, 8.5)
TABLES = ("light", "grey", "dark", "wood")


@dataclass
class Piece:
    """One thing on the table: ``polygon`` (n, 2) in inches; ``kind`` scrap, sheet or card."""

    kind: str
    polygon: np.ndarray
    size_in: tuple[float, float]
    paint: object = None
    cut_off: bool = False
    outline: np.ndarray = field(default=None)  # in picture pixels


@dataclass
class Scene:
    """``picture`` (h, w, 3) sRGB 8-bit; ``labels`` (h, w): 0 table, k the k-th of ``pieces``."""

    picture: np.ndarray
    labels: np.ndarray
    pieces: list[Piece]
    homography: np.ndarray
    ppi: float

    @property
    def scraps(self) -> list[int]:
        return [k for k, one in enumerate(self.pieces, 1) if one.kind == "scrap"]

    def jpeg(self, path, quality: int = 90) -> None:
        Image.fromarray(self.picture).save(path, "JPEG", quality=quality)


def make_scene(
    seed: int,
    table: str = "grey",
    scraps: int = 9,
    size: tuple[int, int] = (2000, 1500),
    wide_in: float = 30.0,
    touching: float = 0.2,
    near_table: float = 0.15,
    sheet: bool = True,
    card: bool = True,
    cut_off: bool = True,
    tilt: float = 0.06,
    falloff: float = 0.4,
    noise: float = 0.006,
) -> Scene:
    rng = np.random.default_rng([seed, TABLES.index(table)])
    width, height = size
    tall_in = wide_in * height / width
    homography = _camera(rng, size, wide_in, tall_in, tilt)
    base = _table_colour(rng, table)
    pieces = _layout(rng, wide_in, tall_in, scraps, touching, sheet, card, cut_off)
    for one in pieces:
        if one.kind == "scrap":
            one.paint = _print(rng, base if rng.random() < near_table else None)
        elif one.kind == "sheet":
            one.paint = _plain(np.full(3, rng.uniform(0.78, 0.9)))
        else:
            one.paint = _card(rng)
    linear = _table(rng, table, base, size, homography)
    labels = np.zeros((height, width), np.uint8)
    for k, one in enumerate(pieces, 1):
        _draw(linear, labels, k, one, homography, rng)
    linear = _light(rng, linear, falloff)
    return Scene(_develop(rng, linear, noise), labels, pieces, homography, width / wide_in)


def project(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    moved = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return moved[:, :2] / moved[:, 2:]


def _camera(rng, size, wide_in, tall_in, tilt):
    """Table inches → picture pixels: the view's corners pulled in at random."""
    width, height = size
    source = np.array([[0, 0], [wide_in, 0], [wide_in, tall_in], [0, tall_in]], float)
    target = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    target += rng.uniform(-tilt, tilt, (4, 2)) * [width, height] * 0.5
    rows = []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
    return np.append(np.linalg.solve(np.array(rows), target.ravel()), 1.0).reshape(3, 3)


def _table_colour(rng, table):
    grey = {"light": 0.72, "grey": 0.22, "dark": 0.035, "wood": 0.28}[table]
    tint = {"wood": [1.35, 0.95, 0.6]}.get(table, [1, 1, 1])
    return np.clip(
        grey * np.array(tint) * rng.uniform(0.92, 1.08, 3) * rng.uniform(0.85, 1.1), 0, 1
    )


def _table(rng, table, base, size, homography):
    width, height = size
    if table != "wood":
        grain = gaussian_filter(rng.normal(0, 1, (height, width)), 2)
        grain *= rng.uniform(0.004, 0.02) / grain.std()
        return base * (1 + grain[..., None])
    # Boards: noise stretched along the grain, warped a little, light and dark of one brown.
    angle = rng.uniform(-0.3, 0.3)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    u = (x * np.cos(angle) + y * np.sin(angle)) / 60
    v = (y * np.cos(angle) - x * np.sin(angle)) / 4
    field_ = gaussian_filter(rng.normal(0, 1, (512, 128)), (1.2, 1.5), mode="wrap")
    warp = gaussian_filter(rng.normal(0, 1, (64, 64)), 4, mode="wrap") * 40
    v = v + map_coordinates(warp, [(y / 60) % 63, (x / 90) % 63], order=1)
    streaks = map_coordinates(field_, [v % 511, u % 127], order=1, mode="wrap")
    streaks /= streaks.std()
    dark = base * np.array([0.6, 0.5, 0.45])
    mix = np.clip(0.5 + rng.uniform(0.1, 0.22) * streaks, 0, 1)[..., None]
    return dark + (base * 1.15 - dark) * mix


def _layout(rng, wide, tall, scraps, touching, sheet, card, cut_off):
    """Free places by rejection; some scraps are laid against an earlier one's side."""
    pieces: list[Piece] = []
    if sheet:
        pieces += _place(rng, pieces, wide, tall, "sheet", _sheet_size(rng), 0.35, margin=0.6)
    if card:
        pieces += _place(rng, pieces, wide, tall, "card", CARD_IN, 0.35, margin=0.6)
    if cut_off:
        pieces += _at_the_edge(rng, wide, tall)
    room = wide * tall - (60 if sheet else 0)
    unit = np.sqrt(room / max(scraps, 6) * 0.42)
    for _ in range(scraps - (1 if cut_off else 0)):
        shape = rng.choice(["square", "oblong", "strip"], p=[0.35, 0.4, 0.25])
        ratio = {
            "square": rng.uniform(1, 1.2),
            "oblong": rng.uniform(1.3, 2.2),
            "strip": rng.uniform(3.5, 6),
        }[shape]
        area = unit**2 * rng.uniform(0.5, 1.2) * (0.6 if shape == "strip" else 1)
        size_in = (np.sqrt(area * ratio), np.sqrt(area / ratio))
        hosts = [one for one in pieces if one.kind == "scrap" and not one.cut_off]
        if hosts and rng.random() < touching:
            laid = _against(rng, pieces, wide, tall, hosts[rng.integers(len(hosts))], size_in)
            if laid:
                pieces += laid
                continue
        pieces += _place(rng, pieces, wide, tall, "scrap", size_in, 0.5)
    return pieces


def _sheet_size(rng):
    return (LETTER_IN, (297 / 25.4, 210 / 25.4), (210 / 25.4, 148 / 25.4))[rng.integers(3)]


def _corners(centre, size_in, angle):
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size_in) / 2
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return half @ turn.T + centre


def _place(rng, pieces, wide, tall, kind, size_in, turn, margin=0.25):
    for _ in range(400):
        angle = rng.normal(0, turn) + rng.integers(2) * np.pi / 2
        centre = rng.uniform([0, 0], [wide, tall])
        corners = _corners(centre, size_in, angle)
        if _free(corners, pieces, wide, tall, margin):
            return [_piece(rng, kind, corners, size_in)]
    return []


def _against(rng, pieces, wide, tall, host, size_in):
    corners = host.polygon if len(host.polygon) == 4 else host.corners
    for _ in range(40):
        k = rng.integers(4)
        a, b = corners[k], corners[(k + 1) % 4]
        along = (b - a) / np.linalg.norm(b - a)
        out = np.array([along[1], -along[0]])
        angle = np.arctan2(along[1], along[0]) + rng.normal(0, 0.03) * rng.integers(2)
        overlap = 0.06
        at = a + (b - a) * rng.uniform(-0.1, 1.1)
        lying = size_in if rng.random() < 0.5 else size_in[::-1]
        centre = at + out * (lying[1] / 2 - overlap)
        other = _corners(centre, lying, angle)
        rest = [one for one in pieces if one is not host]
        if _free(other, rest, wide, tall, 0.25):
            return [_piece(rng, "scrap", other, size_in)]
    return []


def _at_the_edge(rng, wide, tall):
    size_in = (rng.uniform(5, 8), rng.uniform(1.5, 2.5))
    y = rng.uniform(0.3, 0.7) * tall
    side = rng.integers(2) * wide
    corners = _corners(np.array([side, y]), size_in, rng.normal(0, 0.15))
    one = _piece(rng, "scrap", corners, size_in)
    one.cut_off = True
    return [one]


def _free(corners, pieces, wide, tall, margin):
    inside = (corners > [0.06 * wide, 0.06 * tall]) & (corners < [0.94 * wide, 0.94 * tall])
    return inside.all() and all(_apart(corners, one.corners, margin) for one in pieces)


def _apart(a, b, margin):
    """Separating axes of two rectangles."""
    for shape in (a, b):
        for k in range(2):
            axis = shape[k + 1] - shape[k]
            axis = axis / np.linalg.norm(axis)
            p, q = a @ axis, b @ axis
            if p.max() + margin < q.min() or q.max() + margin < p.min():
                return True
    return False


def _piece(rng, kind, corners, size_in):
    if kind == "card":
        polygon = _rounded(corners, CARD_RADIUS_IN)
    elif kind == "scrap" and rng.random() < 0.5:
        polygon = _ragged(rng, corners)
    else:
        polygon = corners
    one = Piece(kind, polygon, (max(size_in), min(size_in)))
    one.corners = corners
    return one


def _rounded(corners, radius):
    points = []
    for k in range(4):
        here, before, after = corners[k], corners[k - 1], corners[(k + 1) % 4]
        u = (before - here) / np.linalg.norm(before - here)
        v = (after - here) / np.linalg.norm(after - here)
        centre = here + (u + v) * radius
        for t in np.linspace(0, np.pi / 2, 9):
            points.append(centre - radius * (np.cos(t) * v + np.sin(t) * u))
    return np.array(points)


def _ragged(rng, corners):
    """Sides that wander a little, as torn or hand-cut cloth has."""
    points = []
    amplitude = rng.uniform(0.01, 0.025) * np.linalg.norm(corners[2] - corners[0])
    for k in range(4):
        a, b = corners[k], corners[(k + 1) % 4]
        normal = np.array([a[1] - b[1], b[0] - a[0]]) / np.linalg.norm(b - a)
        t = np.linspace(0, 1, 14, endpoint=False)
        wander = gaussian_filter(rng.normal(0, 1, 14), 1.2) * amplitude
        points.append(a + (b - a) * t[:, None] + normal * wander[:, None])
    return np.concatenate(points)


def _plain(colour):
    return lambda u, v: np.broadcast_to(colour, (*u.shape, 3))


def _card(rng):
    dark, light = rng.uniform(0.02, 0.6, 3), rng.uniform(0.1, 0.8, 3)

    def paint(u, v):
        mix = (0.5 + 0.5 * np.tanh((u + 0.7 * v) * 1.2))[..., None]
        out = dark * (1 - mix) + light * mix
        chip = (abs(u + 1.0) < 0.23) & (abs(v) < 0.19)
        return np.where(chip[..., None], [0.6, 0.5, 0.25], out)

    return paint


def _ink(rng):
    hue = rng.random() * 2 * np.pi
    colour = 0.5 + rng.uniform(0.05, 0.5) * np.cos(hue + np.array([0, 2.1, 4.2]))
    return np.clip(colour * rng.uniform(0.06, 0.9), 0.012, 0.85)


def _print(rng, table_colour):
    """A paint: inches on the cloth → linear colour. ``table_colour``: its ground comes close."""
    ground = (
        _ink(rng)
        if table_colour is None
        else np.clip(table_colour * rng.uniform(0.75, 1.3, 3), 0, 1)
    )
    inks = [_ink(rng) for _ in range(3)]
    kind = rng.choice(["solid", "blotch", "dots", "stripes", "check", "sprigs"])
    period, phase = rng.uniform(0.3, 1.0), rng.uniform(0, 9, 2)
    waves = rng.normal(0, 1, (6, 2)) * 2 * np.pi / rng.uniform(1.0, 3.0)
    shifts = rng.uniform(0, 2 * np.pi, (2, 6))
    turn = rng.uniform(0, np.pi)

    def paint(u, v):
        p, q = u * np.cos(turn) + v * np.sin(turn), v * np.cos(turn) - u * np.sin(turn)
        out = np.broadcast_to(ground, (*u.shape, 3))
        if kind in ("blotch", "solid"):
            strength = 1.0 if kind == "blotch" else 0.12
            for k in range(2):
                tide = sum(
                    np.sin(a * u + b * v + s) for (a, b), s in zip(waves, shifts[k], strict=True)
                )
                mix = strength * (0.5 + 0.5 * np.tanh(tide - 0.5))[..., None]
                out = out * (1 - mix) + inks[k] * mix
            return out
        if kind == "stripes":
            on = (p / period + phase[0]) % 1 < 0.45
        elif kind == "check":
            on = ((p / period + phase[0]) % 1 < 0.5) ^ ((q / period + phase[1]) % 1 < 0.5)
        else:
            a, b = (p / period + phase[0]) % 1 - 0.5, (q / period + phase[1]) % 1 - 0.5
            on = np.hypot(a, b) < (0.25 if kind == "dots" else 0.33 + 0.1 * np.sin(6 * p))
        return np.where(on[..., None], inks[0], out)

    return paint


def _draw(linear, labels, k, one, homography, rng):
    outline = project(homography, one.polygon)
    one.outline = outline
    height, width = labels.shape
    low = np.floor(outline.min(axis=0)).astype(int) - 6
    high = np.ceil(outline.max(axis=0)).astype(int) + 7
    x0, y0 = np.maximum(low, 0)
    x1, y1 = np.minimum(high, [width, height])
    if x1 <= x0 or y1 <= y0:
        return
    over = 4
    sheet = Image.new("L", ((x1 - x0) * over, (y1 - y0) * over))
    ImageDraw.Draw(sheet).polygon(
        [((x - x0) * over, (y - y0) * over) for x, y in outline], fill=255
    )
    cover = np.asarray(sheet.reduce(over), float)[..., None] / 255
    here = linear[y0:y1, x0:x1]
    shadow = gaussian_filter(np.roll(cover[..., 0], (2, 2), (0, 1)), 2.0)
    here *= 1 - rng.uniform(0.05, 0.25) * shadow[..., None] * (1 - cover)
    x, y = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    flat = project(np.linalg.inv(homography), np.column_stack([x.ravel(), y.ravel()]))
    centre, axis = one.corners.mean(axis=0), one.corners[1] - one.corners[0]
    axis = axis / np.linalg.norm(axis)
    local = flat - centre
    u = (local @ axis).reshape(x.shape)
    v = (local @ np.array([-axis[1], axis[0]])).reshape(x.shape)
    colour = one.paint(u, v)
    if one.kind == "scrap":
        weave = rng.normal(0, 1, x.shape)[..., None] * 0.05
        colour = colour * (1 + weave)
    here += cover * (colour - here)
    labels[y0:y1, x0:x1][cover[..., 0] > 0.5] = k


def _light(rng, linear, falloff):
    height, width = linear.shape[:2]
    y, x = np.mgrid[0:height, 0:width]
    at = rng.uniform(0.1, 0.9, 2) * [width, height]
    far = np.hypot(x - at[0], y - at[1]) / np.hypot(width, height)
    strength = falloff * rng.uniform(0.3, 1.0)
    cast = 1 + rng.uniform(-0.12, 0.12, 3)
    return linear * (1 - strength * far[..., None]) * cast


def _develop(rng, linear, noise):
    blurred = np.stack([gaussian_filter(linear[..., c], 0.8) for c in range(3)], axis=-1)
    grainy = blurred + rng.normal(0, 1, blurred.shape) * noise * np.sqrt(np.clip(blurred, 0.01, 1))
    clipped = np.clip(grainy, 0, 1)
    srgb = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    buffer = io.BytesIO()
    Image.fromarray(np.rint(srgb * 255).astype(np.uint8)).save(buffer, "JPEG", quality=90)
    return np.asarray(Image.open(buffer).convert("RGB"))


def single_print(seed: int, size: tuple[int, int] = (1200, 900)) -> np.ndarray:
    """A close-up of one print that fills the picture."""
    rng = np.random.default_rng([seed, 99])
    paint = _print(rng, None)
    y, x = np.mgrid[0 : size[1], 0 : size[0]] / 150.0
    linear = paint(x, y) * (1 + rng.normal(0, 0.06, x.shape)[..., None])
    return _develop(rng, _light(rng, linear, 0.3), 0.006)


def blurred(picture: np.ndarray, radius: float) -> np.ndarray:
    return np.asarray(Image.fromarray(picture).filter(ImageFilter.GaussianBlur(radius)))
