"""Every format upright and in sRGB; every damaged file one clear line."""

import contextlib
import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from sequencer.colour import linear_to_srgb, srgb_to_linear
from sequencer.errors import PhotoError
from sequencer.photo.files.load import ANALYSIS_SIDE, DETAIL_SIDE, load

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture
def picture() -> Image.Image:
    y, x = np.mgrid[0:90, 0:120]
    return Image.fromarray(np.stack([x * 2, y * 2, (x + y) % 256], axis=-1).astype(np.uint8))


def saved(folder: Path, picture: Image.Image, name: str, **how: object) -> Path:
    picture.save(folder / name, **how)
    return folder / name


@pytest.mark.parametrize("orientation", range(1, 10))
def test_orientation_as_pillow_turns_it(tmp_path: Path, picture: Image.Image, orientation: int):
    # Outside check: Pillow's own exif_transpose (CIPA DC-008). 9 is no orientation: left alone.
    exif = Image.Exif()
    exif[0x0112] = orientation
    for name in ("a.jpg", "a.png", "a.webp", "a.tif"):
        path = saved(tmp_path, picture, name, exif=exif.tobytes())
        right = ImageOps.exif_transpose(Image.open(path).convert("RGB"))
        if name == "a.tif":
            opened = Image.open(path)
            opened.load()
            right = ImageOps.exif_transpose(opened)
        photo = load(path)
        assert photo.full_size == right.size
        assert np.abs(photo.pixels.astype(int) - np.asarray(right).astype(int)).max() <= 3


def test_focal_length_as_the_file_states_it(tmp_path: Path, picture: Image.Image):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[41989] = 26  # FocalLengthIn35mmFilm, CIPA DC-008
    assert load(saved(tmp_path, picture, "a.jpg", exif=exif.tobytes())).equivalent == 26
    assert load(saved(tmp_path, picture, "b.jpg")).equivalent is None


@pytest.mark.parametrize("name", ["a.png", "a.webp", "a.tif", "a.bmp"])
def test_lossless_formats_keep_every_pixel(tmp_path: Path, picture: Image.Image, name: str):
    path = saved(tmp_path, picture, name, **({"lossless": True} if "webp" in name else {}))
    photo = load(path)
    assert np.array_equal(photo.pixels, np.asarray(picture))
    assert (photo.name, photo.stem, photo.factor) == (name, "a", 1.0)


def test_heic(picture: Image.Image):
    # Made once with libheif 1.23 and x265, which the program does not carry.
    photo = load(DATA / "gradient.heic")
    assert photo.full_size == (120, 90)
    assert np.abs(photo.pixels.astype(int) - np.asarray(picture).astype(int)).mean() < 6
    with pytest.raises(PhotoError, match="damaged HEIC"):
        load(DATA / "tiny.heic")


def test_nothing_here_carries_an_encoder_for_hevc():
    """The decoder alone is under the LGPL; libx265, which can also write, is under the GPL."""
    import pi_heif

    told = pi_heif.libheif_info()
    assert "HEIF" not in told["encoders"].values()
    assert not any("x265" in name for name in told["encoders"])
    beside = Path(pi_heif.__file__).parent.parent.glob("pi_heif*/*265*")
    assert {"x265" in path.name for path in beside} <= {False}


def p3_profile(gamma: float = 2.2) -> bytes:
    """A matrix profile with the primaries of SMPTE EG 432-1 (P3), D65 adapted to D50 by Bradford.

    Tags laid out by ICC.1:2022, 7 and 10. Colorants are those published for Display P3 (D50).
    """
    xyz = [(0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407)]

    def fixed(*values: float) -> bytes:
        return b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    curve = b"curv" + bytes(4) + struct.pack(">IH", 1, round(gamma * 256)) + bytes(2)
    tags = [(n, b"XYZ " + bytes(4) + fixed(*v)) for n, v in zip((b"rXYZ", b"gXYZ", b"bXYZ"), xyz,
                                                               strict=True)]
    tags += [(n, curve) for n in (b"rTRC", b"gTRC", b"bTRC")]
    tags.append((b"wtpt", b"XYZ " + bytes(4) + fixed(0.9642, 1.0, 0.8249)))
    text = b"desc" + bytes(4) + struct.pack(">I", 3) + b"P3\0" + bytes(78)
    tags += [(b"desc", text), (b"cprt", b"text" + bytes(4) + b"none\0\0\0\0")]
    start = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, data in tags:
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(">I4sI4s4s4s", start + len(body), bytes(4), 0x02100000, b"mntr", b"RGB ",
                       b"XYZ ") + bytes(12) + b"acsp" + bytes(28) + fixed(0.9642, 1.0, 0.8249)
    return head + bytes(128 - len(head)) + table + body


def test_profile_is_honoured_before_anything_else(tmp_path: Path):
    # By hand: P3 (gamma 2.2) → linear → sRGB primaries by the published matrix for P3 D65 → sRGB.
    colours = np.array([[200, 80, 60], [90, 160, 90], [128, 128, 128], [60, 70, 170]], np.uint8)
    picture = Image.fromarray(np.repeat(np.repeat(colours.reshape(2, 2, 3), 60, 0), 60, 1))
    photo = load(saved(tmp_path, picture, "p3.png", icc_profile=p3_profile()))
    to_srgb = np.array([[1.2249, -0.2247, 0], [-0.0420, 1.0419, 0], [-0.0196, -0.0786, 1.0979]])
    right = linear_to_srgb((colours / 255.0) ** 2.2 @ to_srgb.T) * 255
    seen = photo.pixels[[30, 30, 90, 90], [30, 90, 30, 90]]
    assert photo.managed
    assert np.abs(seen - right).max() <= 2.0
    assert np.abs(colours.astype(float) - right).max() > 10  # and it did matter


def test_a_damaged_profile_is_said_and_passed_over(tmp_path: Path, picture: Image.Image):
    photo = load(saved(tmp_path, picture, "a.png", icc_profile=b"not a profile" * 20))
    assert not photo.managed
    assert "profile is damaged" in photo.notes[0]
    assert np.array_equal(photo.pixels, np.asarray(picture))


def test_grey_deep_palette_and_cmyk(tmp_path: Path, picture: Image.Image):
    ramp = np.tile(np.linspace(0, 65535, 100).astype(np.uint16), (60, 1))
    deep = load(saved(tmp_path, Image.fromarray(ramp), "deep.png")).pixels
    assert np.abs(deep[0, :, 0] - np.linspace(0, 255, 100)).max() <= 0.51
    real = Image.fromarray(np.tile(np.linspace(0, 1, 100, dtype=np.float32), (60, 1)))
    assert load(saved(tmp_path, real, "f.tif")).pixels[0, -1].tolist() == [255] * 3
    grey = load(saved(tmp_path, picture.convert("L"), "g.jpg", quality=95)).pixels
    assert np.ptp(grey.astype(int), axis=-1).max() == 0
    paletted = picture.quantize(16)
    assert np.array_equal(load(saved(tmp_path, paletted, "p.png")).pixels,
                          np.asarray(paletted.convert("RGB")))
    cmyk = load(saved(tmp_path, picture.convert("CMYK"), "c.jpg", quality=95))
    assert "CMYK without a colour profile" in cmyk.notes[0]
    assert np.abs(cmyk.pixels.astype(int) - np.asarray(picture).astype(int)).mean() < 8


def test_transparency_becomes_a_mask(tmp_path: Path, picture: Image.Image):
    see_through = picture.convert("RGBA")
    see_through.paste((0, 0, 0, 0), (0, 0, 40, 90))
    photo = load(saved(tmp_path, see_through, "a.png"))
    assert photo.opaque is not None
    assert not photo.opaque[:, :40].any()
    assert photo.opaque[:, 40:].all()
    assert load(saved(tmp_path, picture.convert("RGBA"), "b.png")).opaque is None


def test_only_the_first_frame_and_it_is_said(tmp_path: Path, picture: Image.Image):
    other = ImageOps.invert(picture)
    path = saved(tmp_path, picture, "a.tif", save_all=True, append_images=[other])
    photo = load(path)
    assert np.array_equal(photo.pixels, np.asarray(picture))
    assert "2 pictures" in photo.notes[0]
    moving = saved(tmp_path, picture, "a.gif", save_all=True, append_images=[other, picture])
    assert "3 pictures" in load(moving).notes[0]


def test_large_photos_are_read_at_reduced_size(tmp_path: Path):
    big = Image.linear_gradient("L").resize((12000, 8400))
    photo = load(saved(tmp_path, big, "hundred.jpg", quality=30))
    assert photo.full_size == (12000, 8400)
    assert max(photo.pixels.shape) <= ANALYSIS_SIDE
    assert photo.detail is not None
    assert max(photo.detail.shape) <= DETAIL_SIDE
    assert photo.pixels.shape[1] * photo.factor == pytest.approx(12000, rel=0.005)
    assert photo.detail.shape[1] * photo.detail_factor == pytest.approx(12000, rel=0.005)


def test_reduced_decoding_keeps_region_means(tmp_path: Path):
    # Measured before the first line: draft decoding moves region means by at most 0.2 ΔE.
    rng = np.random.default_rng(5)
    cells = rng.integers(20, 235, (6, 8, 3), dtype=np.uint8)
    picture = Image.fromarray(np.repeat(np.repeat(cells, 500, 0), 500, 1))
    photo = load(saved(tmp_path, picture, "a.jpg", quality=92))
    step = 500 / photo.factor
    for r in range(6):
        for c in range(8):
            part = photo.pixels[int((r + 0.2) * step) : int((r + 0.8) * step),
                                int((c + 0.2) * step) : int((c + 0.8) * step)]
            assert np.abs(part.reshape(-1, 3).mean(axis=0) - cells[r, c]).max() < 2.0


def png_header(width: int, height: int, depth: int = 8, kind: int = 2) -> bytes:
    data = struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)
    chunk = b"IHDR" + data
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(
        ">I", zlib.crc32(chunk)) + b"\0\0\0\0IDAT" + struct.pack(">I", zlib.crc32(b"IDAT"))


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("empty.jpg", b"", "empty"),
        ("letter.jpg", b"Dear aunt, here are the scraps.", "not a picture"),
        ("half.png", b"\x89PNG\r\n\x1a\n" + bytes(30), "damaged picture"),
        ("head.heic", b"\0\0\0\x18ftypheic" + bytes(40), "damaged picture"),
        ("bomb.png", png_header(65536, 65536), "bomb"),
        ("wide.png", png_header(17000, 10000), "bomb"),
        # kinds that are decoded to several whole copies: by measurement over 1 GB beyond this
        ("clear.png", png_header(10000, 9001, 8, 6), "10000 × 9001 pixels of this kind"),
        ("deep.png", png_header(7000, 5001, 16, 0), "more than 1 GB of memory; save it smaller"),
    ],
)
def test_what_is_no_photo_is_refused_by_name(tmp_path: Path, name: str, content: bytes, why: str):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(PhotoError, match=why) as caught:
        load(tmp_path / name)
    assert caught.value.photo == name
    assert "\n" not in str(caught.value)


def test_missing_folder_truncated_and_tiny(tmp_path: Path, picture: Image.Image):
    with pytest.raises(PhotoError, match="no such file"):
        load(tmp_path / "gone.jpg")
    with pytest.raises(PhotoError, match="a folder"):
        load(tmp_path)
    whole = saved(tmp_path, picture, "a.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(PhotoError, match="cut short"):
        load(tmp_path / "cut.jpg")
    with pytest.raises(PhotoError, match="too small"):
        load(saved(tmp_path, picture.resize((30, 20)), "small.png"))


def _encoded(form: str) -> bytes:
    y, x = np.mgrid[0:70, 0:80]
    picture = Image.fromarray(np.stack([x, y, x + y], axis=-1).astype(np.uint8))
    buffer = io.BytesIO()
    picture.save(buffer, form)
    return buffer.getvalue()


@settings(max_examples=120, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(form=st.sampled_from(["JPEG", "PNG", "WEBP", "TIFF", "GIF"]), data=st.data())
def test_hostile_files_raise_nothing_else(tmp_path: Path, form: str, data: st.DataObject):
    raw = bytearray(_encoded(form))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(raw) - 1))
        raw[at] = data.draw(st.integers(0, 255))
    end = data.draw(st.integers(1, len(raw)))
    path = tmp_path / "hostile.jpg"
    path.write_bytes(bytes(raw[:end]))
    with contextlib.suppress(PhotoError):
        assert load(path).pixels.ndim == 3


def test_linear_round_trip_used_above():
    assert np.allclose(srgb_to_linear(linear_to_srgb(np.array([0.2]))), 0.2)
