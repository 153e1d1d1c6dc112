"""The sample photographs: what they must show, and that their script draws them."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps
from skimage.color import deltaE_ciede2000, rgb2lab
from skimage.transform import ProjectiveTransform

SAMPLES = Path(__file__).parents[2] / "sample_images"
RING = ("foam", "shallows", "channel", "deepwater", "nightferry", "mussel", "dusk", "thrift",
        "lantern", "sandbar", "shell")  # fmt: skip
PHOTOS = sorted(p for p in SAMPLES.iterdir() if p.suffix in {".jpg", ".webp", ".png", ".heic"})


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    return json.loads((SAMPLES / "truth.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def table(truth: dict[str, Any]) -> np.ndarray:
    return np.asarray(Image.open(SAMPLES / truth["table"]["photo"]))


def test_the_folder_is_small_and_varied() -> None:
    assert sum(photo.stat().st_size for photo in PHOTOS) < 15_000_000
    assert {photo.suffix for photo in PHOTOS} == {".jpg", ".webp"}
    assert len(PHOTOS) == 6


def test_the_table_is_a_twelve_megapixel_photo_of_eight_scraps(
    truth: dict[str, Any], table: np.ndarray
) -> None:
    assert table.shape == (3000, 4000, 3)
    scraps = truth["table"]["scraps"]
    assert len(scraps) == 8
    for scrap in scraps:
        long, short = scrap["size_in"]
        assert 4 <= long <= 9
        assert 2 <= short <= 4


def test_one_photo_lies_on_its_side_and_says_so() -> None:
    """EXIF 2.3, tag 0x0112: 6 means row 0 is the right-hand side of the scene."""
    sideways = [p.name for p in PHOTOS if Image.open(p).getexif().get(0x0112, 1) == 6]
    assert sideways == ["lantern.jpg"]
    raw = Image.open(SAMPLES / "lantern.jpg")
    assert raw.height > raw.width
    upright = ImageOps.exif_transpose(raw)
    assert upright.width > upright.height


def test_card_and_sheet_have_their_published_sizes(truth: dict[str, Any]) -> None:
    """ISO/IEC 7810 ID-1: 85.60 × 53.98 mm. ISO 216 A5: 210 × 148 mm."""
    for thing, mm in (("card", (85.60, 53.98)), ("sheet", (210, 148))):
        assert np.array(truth["table"][thing]["size_in"]) * 25.4 == pytest.approx(mm, abs=0.01)


def flat(corners: list[list[float]], size: list[float]) -> ProjectiveTransform:
    """From the photo to inches, by a thing of known size."""
    long, short = size
    inches = np.array([(0, 0), (long, 0), (long, short), (0, short)])
    return ProjectiveTransform.from_estimate(np.array(corners), inches)


def test_every_scrap_has_its_true_size_by_the_sheet(truth: dict[str, Any]) -> None:
    to_inches = flat(truth["table"]["sheet"]["corners"], truth["table"]["sheet"]["size_in"])
    for thing in [*truth["table"]["scraps"], truth["table"]["card"]]:
        at = to_inches(np.array(thing["corners"]))
        sides = np.linalg.norm(at - np.roll(at, -1, axis=0), axis=1)
        assert np.allclose(sides, [*thing["size_in"]] * 2, rtol=0.006)


def test_things_lie_where_the_truth_says_and_do_not_touch(
    truth: dict[str, Any], table: np.ndarray
) -> None:
    lab = rgb2lab(table[::8, ::8])
    seen = np.zeros(lab.shape[:2], int)
    for thing in [*truth["table"]["scraps"], truth["table"]["sheet"], truth["table"]["card"]]:
        seen += _inside(np.array(thing["corners"]) / 8, lab.shape[:2], 1.0)
    assert seen.max() == 1
    bare = np.median(lab[seen == 0], axis=0)
    off = np.linalg.norm(lab - bare, axis=2)
    covered = seen.astype(bool)
    assert np.quantile(off[~covered], 0.98) < 15
    assert np.median(off[covered]) > 25


def _inside(corners: np.ndarray, shape: tuple[int, int], grown: float) -> np.ndarray:
    y, x = np.mgrid[: shape[0], : shape[1]]
    inside = np.ones(shape, bool)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        edge = (b - a) / np.linalg.norm(b - a)
        inside &= edge[0] * (y - a[1]) - edge[1] * (x - a[0]) > -grown
    return inside


def test_the_light_falls_off_by_about_a_third(truth: dict[str, Any], table: np.ndarray) -> None:
    linear = ((table[::8, ::8] / 255 + 0.055) / 1.055) ** 2.4
    level = linear[..., 1]
    things = [*truth["table"]["scraps"], truth["table"]["sheet"], truth["table"]["card"]]
    for thing in things:
        level = np.where(_inside(np.array(thing["corners"]) / 8, level.shape, 6), np.nan, level)
    means = [np.nanmedian(part) for row in np.array_split(level, 4)
             for part in np.array_split(row, 4, axis=1)]  # fmt: skip
    assert 0.55 < min(means) / max(means) < 0.85


def test_colours_are_true_once_light_and_cast_are_taken_out(
    truth: dict[str, Any], table: np.ndarray
) -> None:
    """The bare table beside a scrap tells its light, the sheet tells the cast."""
    linear = np.where(table <= 10, table / 255 / 12.92, ((table / 255 + 0.055) / 1.055) ** 2.4)
    small = linear[:3000, :4000].reshape(375, 8, 500, 8, 3).mean(axis=(1, 3))
    sheet = small[_inside(np.array(truth["table"]["sheet"]["corners"]) / 8, (375, 500), -6)]
    around = _ring(truth["table"]["sheet"]["corners"], truth, small)
    grey = around / (sheet.mean(axis=0) / 0.9)
    for scrap in truth["table"]["scraps"]:
        cloth = small[_inside(np.array(scrap["corners"]) / 8, (375, 500), -3)]
        light = _ring(scrap["corners"], truth, small) / grey
        srgb = np.clip(cloth / light, 0, 1)
        srgb = np.where(srgb <= 0.0031308, srgb * 12.92, 1.055 * srgb ** (1 / 2.4) - 0.055)
        mean = rgb2lab(srgb[None]).reshape(-1, 3).mean(axis=0)
        assert float(deltaE_ciede2000(mean, scrap["mean_lab"])) < 4, scrap["name"]


def _ring(corners: list[list[float]], truth: dict[str, Any], small: np.ndarray) -> np.ndarray:
    near = _inside(np.array(corners) / 8, (375, 500), 12)
    for thing in [*truth["table"]["scraps"], truth["table"]["sheet"], truth["table"]["card"]]:
        near &= ~_inside(np.array(thing["corners"]) / 8, (375, 500), 6)
    return np.median(small[near], axis=0)


def means(truth: dict[str, Any]) -> dict[str, np.ndarray]:
    both = [*truth["table"]["scraps"], *truth["close_ups"]]
    return {item["name"]: np.array(item["mean_lab"]) for item in both}


def test_close_ups_show_their_print(truth: dict[str, Any]) -> None:
    """Within what uneven light and a small cast do to an uncorrected photo."""
    for item in truth["close_ups"]:
        photo = ImageOps.exif_transpose(Image.open(SAMPLES / item["photo"])).convert("RGB")
        mean = rgb2lab(np.asarray(photo)[::8, ::8]).reshape(-1, 3).mean(axis=0)
        assert float(deltaE_ciede2000(mean, item["mean_lab"])) < 8, item["name"]


def test_the_ring_is_the_shortest_way_round(truth: dict[str, Any]) -> None:
    """Exact by dynamic programming over subsets (Held and Karp 1962) with ΔE00 of the means."""
    labs = np.array([means(truth)[name] for name in RING])
    cost = deltaE_ciede2000(labs[:, None], labs[None])
    n = len(RING)
    best = {(1, 0): (0.0, (0,))}
    for size in range(1, n):
        for (used, last), (total, path) in list(best.items()):
            if bin(used).count("1") != size:
                continue
            for k in range(1, n):
                if not used >> k & 1:
                    key, found = (used | 1 << k, k), total + cost[last, k]
                    if found < best.get(key, (np.inf,))[0]:
                        best[key] = (found, (*path, k))
    full = (1 << n) - 1
    _, order = min((best[full, k][0] + cost[k, 0], best[full, k][1]) for k in range(1, n))
    assert order in {tuple(range(n)), (0, *range(n - 1, 0, -1))}


def test_values_run_from_light_to_dark(truth: dict[str, Any]) -> None:
    lightness = [lab[0] for lab in means(truth).values()]
    assert max(lightness) > 85
    assert min(lightness) < 30


@pytest.mark.parametrize("name", ["nightferry", "kelp", "dusk"])
def test_the_weave_can_be_seen(truth: dict[str, Any], name: str) -> None:
    """The threads' own frequency (66 and 74 an inch) stands out of the close-up's spectrum."""
    item = next(item for item in truth["close_ups"] if item["name"] == name)
    photo = Image.open(SAMPLES / item["photo"]).convert("L")
    level = np.asarray(photo, float)[400:1424, 400:1424]
    window = np.hanning(1024)
    power = np.abs(np.fft.rfft2((level - level.mean()) * np.outer(window, window))) ** 2
    fy, fx = np.fft.fftfreq(1024)[:, None], np.fft.rfftfreq(1024)[None]
    an_inch = np.hypot(fx, fy) * photo.width / item["inches_across"]
    threads = power[(an_inch > 60) & (an_inch < 80)].max()
    beside = np.quantile(power[(an_inch > 85) & (an_inch < 110)], 0.99)
    assert threads > 20 * beside


def test_the_script_draws_what_is_committed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, truth: dict[str, Any]
) -> None:
    """One photo drawn again; other versions of the libraries may round a little otherwise."""
    monkeypatch.syspath_prepend(str(SAMPLES))
    before = set(sys.modules)
    import make_samples

    monkeypatch.setattr(make_samples, "HERE", tmp_path)
    place = list(make_samples.CLOSE_UPS).index("oilskin")
    again = make_samples.close_up("oilskin", make_samples.close_up_seed(place))
    for module in set(sys.modules) - before:
        if str(SAMPLES) in str(getattr(sys.modules[module], "__file__", "")):
            del sys.modules[module]
    wanted = next(item for item in truth["close_ups"] if item["name"] == "oilskin")
    assert again["mean_lab"] == pytest.approx(wanted["mean_lab"], abs=0.2)
    drawn, kept = (
        np.asarray(Image.open(folder / "oilskin.jpg"), dtype=int) for folder in (tmp_path, SAMPLES)
    )
    assert np.abs(drawn - kept).mean() < 1.0
