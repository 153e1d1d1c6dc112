"""The picture of the finished piece: right cloth, true scale, own stretch for every patch."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from skimage.color import rgb2lab

from sequencer.errors import SheetError, UsageError
from sequencer.models import Column, PaletteColour, Plan, Print, Swatch
from sequencer.rendering import VIEWS, drawn_ppi, picture_size, render, swatch_thumbnail
from sequencer.rendering.cutting import Strips
from sequencer.rendering.growing import long_strip
from sequencer.rendering.patchwork import bounced
from sequencer.rendering.textures import cloth_at, encode, resized
from sequencer.rendering.views import from_afar

COLOURS = {
    "sky": (150, 190, 220), "moss": (70, 110, 50), "plum": (110, 40, 90), "sand": (220, 190, 140),
}  # fmt: skip


def mottled(name: str, ppi: float | None = 60.0, size: tuple[int, int] = (240, 480)) -> Print:
    """A print whose every spot is its own: smooth random mottle round one colour."""
    rng = np.random.default_rng(list(COLOURS).index(name))
    grain = rng.normal(0, 14, (size[0] // 4, size[1] // 4, 3)).astype(np.float32)
    grown = np.stack(
        [np.asarray(Image.fromarray(grain[..., k]).resize(size[::-1])) for k in range(3)], axis=-1
    )
    pixels = np.clip(np.array(COLOURS[name]) + grown, 0, 255).astype(np.uint8)
    lab = tuple(float(v) for v in rgb2lab(pixels).reshape(-1, 3).mean(axis=0))
    return Print(name, name, f"{name}.jpg", ((0, 0), (1, 0), (1, 1)), lab,
                 (PaletteColour(lab, 1.0),), swatch=Swatch(pixels, ppi))


PRINTS = [mottled(name) for name in COLOURS]


def flat_plan(**changes: object) -> Plan:
    widths, offsets = (F(1), F(1, 2), F(3, 4), F(1, 2)), (0, 1, 2, 1)
    seam, rows, border = F(1, 4), 8, F(1)
    strips = {"sky": F(1, 2), "moss": F(1, 4), "plum": F(3, 8), "sand": F(1, 2)}
    centre = (sum(widths, F(0)), 2 * sum(strips.values(), F(0)))
    plan = Plan(
        prints=tuple(strips), seam=seam, repeats=2, rows=rows, finished_strip=strips,
        columns=tuple(Column(w + 2 * seam, w, o) for w, o in zip(widths, offsets, strict=True)),
        centre=centre, bordered=(centre[0] + 2 * border, centre[1] + 2 * border), fabric=(),
        layers={}, seams={}, backing=None, batting=None, steps=(),
        border={"print": "plum", "width": border, "cut_width": border + 2 * seam},
        binding={"print": "sand", "cut_width": F(5, 4), "covers": seam},
    )  # fmt: skip
    return replace(plan, **changes)


def boxes(plan: Plan, ppi: float) -> list[tuple[str, tuple[int, int, int, int]]]:
    """Name and pixel box of each patch, from the plan's own exact lengths."""
    inset = F(1, 4) + F(1)
    found, x = [], inset
    for c, column in enumerate(plan.columns):
        y = inset
        for r in range(plan.rows):
            name = plan.patch_print(r, c)
            right, bottom = x + column.finished_width, y + plan.finished_strip[name]
            box = tuple(round(float(v) * ppi) for v in (x, y, right, bottom))
            found.append((name, box))
            y = bottom
        x += column.finished_width
    return found


def lab_of(picture: Image.Image, box: tuple[int, int, int, int] | None = None) -> np.ndarray:
    return rgb2lab(np.asarray(picture.crop(box) if box else picture))


@pytest.fixture(scope="module")
def picture() -> Image.Image:
    return render(flat_plan(), PRINTS, ppi=100)


@pytest.mark.parametrize("ppi", [37, 100, 144.5])
def test_picture_is_true_to_scale(ppi: float) -> None:
    plan = flat_plan()
    assert picture_size(plan) == (F(11, 4) + 2 + F(1, 2), F(13, 4) + 2 + F(1, 2))
    drawn = render(plan, PRINTS, ppi=ppi)
    assert drawn.size == tuple(round(float(side) * ppi) for side in picture_size(plan))
    assert drawn.info["ppi"] == ppi


def test_each_patch_shows_its_print(picture: Image.Image) -> None:
    known = {cloth.id: cloth.mean_lab for cloth in PRINTS}
    for name, (left, top, right, bottom) in boxes(flat_plan(), 100):
        inside = (left + 6, top + 6, right - 6, bottom - 6)
        mean = lab_of(picture, inside).reshape(-1, 3).mean(axis=0)
        nearest = min(known, key=lambda key: float(np.linalg.norm(mean - known[key])))
        assert nearest == name
        assert np.linalg.norm(mean - known[name]) < 8


def window(cloth: np.ndarray, top: int, left: int, height: int, width: int) -> np.ndarray:
    """What lies there on a cloth that goes on as its own mirror image."""
    rows, columns = cloth.shape[:2]
    down, across = bounced(top + np.arange(height), rows), bounced(left + np.arange(width), columns)
    return cloth[down[:, None], across]


def test_no_two_patches_show_the_same_stretch() -> None:
    """Nor their mirror images or halves turned round; the cloth holds only part of what is cut."""
    cloth = cloth_at(PRINTS[0], 60)
    corners = Strips(cloth, 60, 0.5, 0.25, tall=30).corners([1.0] * 60, np.full(60, 30))
    patches = [window(cloth, *corner, 30, 30) for corner in zip(*corners, strict=True)]
    seen = {turned.tobytes() for patch in patches[:1] for turned in (patch[::-1], patch[:, ::-1])}
    for patch in patches:
        assert patch.tobytes() not in seen
        seen.add(patch.tobytes())


def test_patches_are_cut_with_their_seam_allowances() -> None:
    """Cloth that tells its place in 1/60 in: every patch starts an allowance inside its cut."""
    down, across = np.mgrid[0:240, 0:600].astype(np.float32)
    cloth = np.stack([down, across, across], axis=-1)
    strips = Strips(cloth, 60, strip=0.5, seam=0.25, tall=30)
    cuts = (1.0, 2.0, 5.0, 4.0)  # the fourth finds 2 in left of 10: a new strip, 1 in further down
    wide = np.array([round((cut - 0.5) * 60) for cut in cuts])
    patches = [window(cloth, top, left, 30, width)
               for top, left, width in zip(*strips.corners(cuts, wide), wide, strict=True)]
    starts = [patch[0, 0, :2].tolist() for patch in patches]
    ends = [patch[-1, -1, :2].tolist() for patch in patches]
    assert starts == [[15, 15], [15, 75], [15, 195], [75, 15]]
    assert ends == [[44, 44], [44, 164], [44, 464], [104, 224]]


def test_a_patch_is_cloth_at_true_scale() -> None:
    """A ruler printed on the cloth: stripes 1/8 in wide come out 1/8 in wide."""
    columns = np.arange(480)
    stripes = np.where((columns // 10) % 2, 230, 30).astype(np.uint8)
    ruled = replace(PRINTS[0], swatch=Swatch(np.dstack([np.tile(stripes, (240, 1))] * 3), 80.0))
    for ppi in (40, 80, 160, 400):
        row = cloth_at(ruled, ppi)[4, :, 0] > 0.3
        changes = np.flatnonzero(np.diff(row.astype(int)))
        assert np.diff(changes).mean() == pytest.approx(ppi / 8, rel=0.01)


def test_reducing_cloth_keeps_its_light_and_makes_no_pattern() -> None:
    """A chequer finer than the pixel becomes the grey of half its light: sRGB 188, not 128."""
    fine = np.indices((600, 900)).sum(axis=0) % 2 * 255
    pixels = np.dstack([fine.astype(np.uint8)] * 3)
    for width, height in ((97, 61), (400, 250), (31, 19)):
        grey = encode(resized(pixels, width, height))[2:-2, 2:-2]
        assert np.ptp(grey) <= 2
        assert abs(int(np.median(grey)) - 188) <= 1


def test_seams_are_faint_and_where_the_plan_has_them() -> None:
    grey = Swatch(np.full((200, 400, 3), 160, np.uint8), 60.0)
    plain = [replace(cloth, swatch=grey) for cloth in PRINTS]
    plan = flat_plan()
    value = lab_of(render(plan, plain, ppi=100))[..., 0]
    x = round(float(F(5, 4) + 1) * 100)
    middle = slice(*(round(float(v) * 100) for v in (F(5, 4), F(5, 4) + plan.centre[1])))
    line = np.median(value[middle, x - 20 : x + 21], axis=0)
    assert abs(int(line.argmin()) - 20) <= 1
    dip = np.median(line) - line.min()
    assert 2 < dip < 15


def test_border_and_binding_are_in_place(picture: Image.Image) -> None:
    width, height = picture.size
    known = {cloth.id: np.array(cloth.mean_lab) for cloth in PRINTS}
    far, low = width - 40, height - 130
    rim = [(40, 4, far, 21), (4, 40, 21, low), (40, height - 21, far, height - 4)]
    frame = [(40, 32, far, 118), (32, 130, 118, low), (width - 118, 130, width - 32, low)]
    for name, places in (("sand", rim), ("plum", frame)):
        for box in places:
            mean = lab_of(picture, box).reshape(-1, 3).mean(axis=0)
            assert np.linalg.norm(mean - known[name]) < 10, (name, box)


def test_without_border_and_binding_the_patchwork_is_all() -> None:
    plan = flat_plan(border=None, binding=None)
    plan = replace(plan, bordered=plan.centre)
    assert picture_size(plan) == plan.centre
    assert render(plan, PRINTS, ppi=40).size == (110, 130)


def test_two_borders_are_drawn_inside_out() -> None:
    borders = [{"print": name, "width": F(1, 2), "cut_width": F(1)} for name in ("sky", "sand")]
    plan = flat_plan(border={**borders[0], "borders": borders})
    drawn = render(plan, PRINTS, ppi=100)
    known = {cloth.id: np.array(cloth.mean_lab) for cloth in PRINTS}
    for box, name in (((60, 200, 72, 350), "sand"), ((84, 200, 118, 350), "sky")):
        mean = lab_of(drawn, box).reshape(-1, 3).mean(axis=0)
        assert np.linalg.norm(mean - known[name]) < 10


@pytest.mark.parametrize("ppi", [23, 37, 41.7, 66.6, 99])
@pytest.mark.parametrize("corners", ["butted", "mitred"])
def test_no_pixel_is_left_bare(ppi: float, corners: str) -> None:
    plan = flat_plan(border={"print": "sky", "width": F(5, 8), "corners": corners})
    plan = replace(plan, bordered=tuple(side + F(5, 4) for side in plan.centre))
    assert np.asarray(render(plan, PRINTS, ppi=ppi)).max(axis=2).min() > 5


@settings(max_examples=25, deadline=None)
@given(
    widths=st.lists(st.integers(2, 40), min_size=1, max_size=7),
    heights=st.lists(st.integers(2, 16), min_size=4, max_size=4),
    border=st.integers(2, 30),
    ppi=st.floats(3, 60),
)
def test_any_plan_is_drawn_whole_and_to_scale(
    widths: list[int], heights: list[int], border: int, ppi: float
) -> None:
    strips = dict(zip(COLOURS, (F(h, 8) for h in heights), strict=True))
    columns = tuple(Column(F(w, 8) + F(1, 2), F(w, 8), k % 4) for k, w in enumerate(widths))
    centre = (F(sum(widths), 8), 2 * F(sum(heights), 8))
    plan = flat_plan(
        finished_strip=strips, columns=columns, centre=centre,
        bordered=tuple(side + F(border, 4) for side in centre),
        border={"print": "moss", "width": F(border, 8), "corners": "mitred"},
    )  # fmt: skip
    drawn = render(plan, PRINTS, ppi=ppi)
    assert drawn.size == tuple(max(1, round(float(side) * ppi)) for side in picture_size(plan))
    assert np.asarray(drawn).max(axis=2).min() > 5


def test_corners_are_butted_or_mitred() -> None:
    """Stripes along each border strip turn at the corner only where it is mitred."""
    stripes = np.where(np.arange(240) // 4 % 2, 220, 40).astype(np.uint8)[:, None, None]
    lined = replace(PRINTS[0], swatch=Swatch(np.broadcast_to(stripes, (240, 480, 3)).copy(), 60.0))
    for corners in ("butted", "mitred"):
        plan = flat_plan(binding=None, border={"print": "sky", "width": F(1), "corners": corners})
        light = np.asarray(render(plan, [lined, *PRINTS[1:]], ppi=100))[..., 1].astype(float)
        below = light[30:90, 10:30] if corners == "butted" else light[50:90, 4:30]
        across, down = (np.abs(np.diff(below, axis=axis)).mean() for axis in (1, 0))
        assert (across > 2 * down) == (corners == "mitred")
        assert (down > 2 * across) == (corners == "butted")


def test_value_view_has_the_lightness_of_the_colour_view(picture: Image.Image) -> None:
    """CIELAB by scikit-image: L* kept within the rounding of 8 bits, no colour left."""
    grey = lab_of(render(flat_plan(), PRINTS, ppi=100, view="value"))
    assert np.abs(grey[..., 0] - lab_of(picture)[..., 0]).max() < 0.6
    assert np.abs(grey[..., 1:]).max() < 0.01


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("view", ["protan", "deutan", "tritan"])
def test_colour_vision_views_follow_machado(view: str, picture: Image.Image) -> None:
    """Against colour-science's copy of Machado, Oliveira and Fernandes (2009), severity 1."""
    from colour.blindness import matrix_cvd_Machado2009

    kind = {"protan": "Protanomaly", "deutan": "Deuteranomaly", "tritan": "Tritanomaly"}[view]
    matrix = matrix_cvd_Machado2009(kind, 1.0)
    srgb = np.asarray(picture) / 255
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ matrix.T, 0, 1)
    wanted = np.where(seen <= 0.0031308, seen * 12.92, 1.055 * seen ** (1 / 2.4) - 0.055) * 255
    got = np.asarray(render(flat_plan(), PRINTS, ppi=100, view=view)).astype(float)
    assert np.abs(got - wanted).mean() < 0.6
    assert np.quantile(np.abs(got - wanted), 0.99) < 3


def grating(cycles_per_degree: float, per_degree: float, chroma: bool) -> np.ndarray:
    """A luminance or a red-green grating 3° wide, linear light."""
    x = np.arange(round(3 * per_degree)) / per_degree
    wave = 0.1 * np.sin(2 * np.pi * cycles_per_degree * x)
    rgb = np.array([1.0, -0.2973, 0.0]) if chroma else np.array([1.0, 1.0, 1.0])
    return np.tile(0.4 + wave[:, None] * rgb, (8, 1, 1)).astype(np.float32)


@pytest.mark.parametrize("cycles", [1.0, 4.0, 10.0, 20.0])
def test_from_afar_passes_luminance_as_published(cycles: float) -> None:
    """The contrast left at each frequency is that of the filter's own Fourier transform.

    The two positive Gaussians of Zhang and Wandell (1997), scaled to a sum of one; a Gaussian of
    full width w at half height passes exp(-(π w f)² / (4 ln 2)).
    """
    per_degree = 100.0
    ppi = per_degree / np.tan(np.radians(1))
    seen = from_afar(grating(cycles, per_degree, chroma=False), ppi, 1.0)
    middle = seen[4, 75:-75, 1]
    amplitude = 2 * abs(np.mean((middle - middle.mean()) * np.exp(
        -2j * np.pi * cycles * np.arange(len(middle)) / per_degree)))
    passed = sum(weight * np.exp(-((np.pi * width * cycles) ** 2) / (4 * np.log(2)))
                 for width, weight in ((0.05, 0.9207), (0.225, 0.105))) / (0.9207 + 0.105)
    assert amplitude / 0.1 == pytest.approx(passed, abs=0.01)


def test_from_afar_loses_colour_before_lightness_and_keeps_plain_cloth() -> None:
    per_degree = 100.0
    ppi = per_degree / np.tan(np.radians(1))

    def left(chroma: bool) -> float:
        before = grating(9.0, per_degree, chroma)
        return float(np.ptp(from_afar(before, ppi, 1.0)[4, 75:-75, 0]) / np.ptp(before[..., 0]))

    assert left(chroma=True) < 0.5 * left(chroma=False)
    plain = np.full((60, 80, 3), (0.5, 0.2, 0.1), np.float32)
    assert np.allclose(from_afar(plain, 100.0), plain, atol=2e-3)


@pytest.mark.parametrize("view", VIEWS)
def test_same_plan_same_picture(view: str) -> None:
    first, second = (np.asarray(render(flat_plan(), PRINTS, ppi=50, view=view)) for _ in range(2))
    assert np.array_equal(first, second)


def test_a_large_piece_is_drawn_at_fewer_pixels_an_inch() -> None:
    plan = flat_plan()
    columns = [Column(c.cut_width * 24, c.finished_width * 24, c.offset) for c in plan.columns]
    width, height = (side * 24 for side in plan.centre)
    big = replace(
        plan, columns=tuple(columns), centre=(width, height), bordered=(width + 2, height + 2),
        finished_strip={key: h * 24 for key, h in plan.finished_strip.items()},
    )  # fmt: skip
    assert drawn_ppi(plan, 100) == 100
    assert 30 < drawn_ppi(big, 100) < 60
    drawn = render(big, PRINTS, ppi=100)
    assert drawn.size[0] * drawn.size[1] <= 12_100_000
    assert drawn.info["ppi"] == pytest.approx(drawn_ppi(big, 100))


def test_swatch_without_scale_shows_five_inches_of_cloth_on_its_short_side() -> None:
    loose = mottled("moss", ppi=None, size=(200, 300))
    assert cloth_at(loose, 100).shape[:2] == (500, 750)


def test_upright_scraps_are_turned_lengthwise() -> None:
    assert cloth_at(mottled("moss", size=(480, 240)), 60).shape[:2] == (240, 480)


def test_print_without_swatch_is_drawn_from_its_palette() -> None:
    two = (PaletteColour((80.0, 0.0, 0.0), 0.7), PaletteColour((30.0, 40.0, 0.0), 0.3))
    bare = replace(PRINTS[0], swatch=None, palette=two)
    value = lab_of(swatch_thumbnail(bare, 200, 200))[..., 0]
    assert (value > 55).mean() == pytest.approx(0.7, abs=0.06)
    assert render(flat_plan(), [bare, *PRINTS[1:]], ppi=30).size == (158, 172)


@pytest.mark.parametrize(("width", "height"), [(60, 60), (200, 40), (33, 120), (1, 1)])
def test_thumbnail_has_the_size_asked_for_and_its_colour(width: int, height: int) -> None:
    small = swatch_thumbnail(PRINTS[2], width, height)
    assert small.size == (width, height)
    mean = lab_of(small).reshape(-1, 3).mean(axis=0)
    assert np.linalg.norm(mean - PRINTS[2].mean_lab) < 12


def test_cloth_goes_on_as_its_mirror_image() -> None:
    cloth = np.arange(60, dtype=np.float32).reshape(4, 5, 3)
    grown = window(cloth, 0, 0, 8, 10)
    assert np.array_equal(grown[4:], grown[:4][::-1])
    assert np.array_equal(grown[:, 5:], grown[:, :5][:, ::-1])
    assert np.array_equal(window(cloth, 8, 10, 4, 5), cloth)


def test_a_long_strip_is_the_cloth_without_a_repeat() -> None:
    cloth = cloth_at(PRINTS[1], 60)
    strip = long_strip(cloth, 2000, 50, np.random.default_rng(3))
    assert strip.shape == (50, 2000, 3)
    assert np.abs(strip.mean(axis=(0, 1)) - cloth.mean(axis=(0, 1))).max() < 0.02
    tall = long_strip(cloth, 300, 900, np.random.default_rng(3))
    assert tall.shape == (900, 300, 3)
    step = np.abs(np.diff(strip, axis=1)).mean(axis=(0, 2))
    own = np.abs(np.diff(cloth, axis=1)).mean(axis=(0, 2))
    assert step.max() < 2.5 * own.max()


def test_what_cannot_be_drawn_is_said() -> None:
    with pytest.raises(SheetError, match="moss"):
        render(flat_plan(), [cloth for cloth in PRINTS if cloth.id != "moss"])
    with pytest.raises(UsageError, match="across-room"):
        render(flat_plan(), PRINTS, view="sepia")
    for bad in (0, -5, float("nan"), float("inf")):
        with pytest.raises(UsageError, match="inch"):
            render(flat_plan(), PRINTS, ppi=bad)
    with pytest.raises(UsageError, match="distance"):
        render(flat_plan(), PRINTS, view="across-room", distance=0)


def test_tiny_pictures_are_still_pictures() -> None:
    assert min(render(flat_plan(), PRINTS, ppi=2).size) >= 5
    speck = replace(PRINTS[0], swatch=Swatch(np.full((1, 1, 3), 90, np.uint8), None))
    assert render(flat_plan(), [speck, *PRINTS[1:]], ppi=20).size == (105, 115)
