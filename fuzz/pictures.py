"""Damaged, hostile and odd picture files, from small good ones and a seed."""

from __future__ import annotations

import io
import random
import struct
import zlib
from pathlib import Path

import numpy as np
from PIL import Image

Dice = random.Random
ENDINGS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "TIFF": "tif", "GIF": "gif", "BMP": "bmp"}
_EDGES = (0, 1, 2, 3, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
_MODES = ("1", "L", "LA", "P", "RGB", "RGBA", "CMYK", "I;16", "I", "F", "YCbCr", "LAB", "HSV")


def seeds(folder: Path) -> list[Path]:
    """Good small pictures, one or more of every format and of many modes, and no pictures."""
    folder.mkdir()
    noise = np.random.default_rng(3).normal(0, 8, (90, 120, 3))
    cloth = Image.fromarray(np.clip(np.array((120, 90, 60)) + noise, 0, 255).astype(np.uint8))
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "camera"
    exif.get_ifd(0x8769)[41989] = 26
    for form, ending in ENDINGS.items():
        for mode in _MODES:
            name = f"{mode.replace(';', '')}.{ending}"
            try:
                told = {"exif": exif.tobytes()} if form in ("JPEG", "PNG", "WEBP", "TIFF") else {}
                cloth.convert(mode).save(folder / name, form, **told)
            except (OSError, ValueError, KeyError, TypeError):
                (folder / name).unlink(missing_ok=True)  # this format has no such mode
    cloth.save(folder / "progressive.jpg", progressive=True, quality=60)
    cloth.save(folder / "arithmetic.tif", compression="tiff_lzw")
    cloth.save(folder / "deflated.tif", compression="tiff_adobe_deflate")
    cloth.save(folder / "moving.gif", save_all=True, append_images=[cloth.rotate(90)] * 3)
    cloth.save(folder / "moving.webp", save_all=True, append_images=[cloth] * 2)
    cloth.save(folder / "interlaced.png", icc_profile=_profile())
    (folder / "letter.jpg").write_text("a letter, not a picture")
    (folder / "vector.png").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    _heif(cloth, folder / "a.heic")
    return sorted(folder.iterdir())


def mutated(dice: Dice, good: list[Path], where: Path) -> Path:
    """One damaged or odd file in ``where``."""
    source = dice.choice(good)
    if dice.random() < 0.06:
        return _odd(dice, where)
    data = bytearray(source.read_bytes())
    for _ in range(dice.choice((1, 1, 1, 2, 3, 8))):
        data = dice.choice(_WAYS)(dice, data, good)
    other = "." + dice.choice([*ENDINGS.values(), "heic"])
    path = where / f"{dice.choice(_NAMES)}{source.suffix if dice.random() < 0.9 else other}"
    path.write_bytes(data)
    return path


_NAMES = ("a", "b c", "Zoë", "=x", "-y", "..z", "nul", "ж", "q" * 100, "a,b", "%s", "[bold]x", "'")


def _flipped(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    for _ in range(dice.randint(1, 40)):
        if data:
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    return data


def _head_flipped(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    for _ in range(dice.randint(1, 6)):
        if data:
            data[dice.randrange(min(len(data), 200))] = dice.randrange(256)
    return data


def _field(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    """A whole number at its edge somewhere near the beginning."""
    size = dice.choice((1, 2, 4))
    at = dice.randrange(max(1, min(len(data), 400) - size))
    value = dice.choice(_EDGES) & (256**size - 1)
    data[at : at + size] = value.to_bytes(size, dice.choice(("big", "little")))
    return data


def _cut(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    return data[: dice.randrange(len(data) + 1)]


def _lost(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    at, much = dice.randrange(len(data) + 1), dice.randint(1, 2000)
    del data[at : at + much]
    return data


def _twice(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    at, much = dice.randrange(len(data) + 1), dice.randint(1, 2000)
    return data[:at] + data[at : at + much] * dice.randint(2, 20) + data[at:]


def _spliced(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    other = dice.choice(good).read_bytes()
    return data[: dice.randrange(len(data) + 1)] + other[dice.randrange(len(other) + 1):]


def _filled(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    at, much = dice.randrange(len(data) + 1), dice.randint(1, 500)
    data[at : at + much] = bytes([dice.choice((0, 255, 65))]) * len(data[at : at + much])
    return data


def _png_head(dice: Dice, data: bytearray, good: list[Path]) -> bytearray:
    """A PNG's size, depth or kind changed, its checksum right."""
    if data[:4] != b"\x89PNG" or len(data) < 33:
        return _field(dice, data, good)
    wide, high, depth, kind, *rest = struct.unpack(">IIBBBBB", data[16:29])
    if dice.random() < 0.6:
        wide = dice.choice((wide, 1, 47, 20_000, 100_000, 2**31 - 1))
        high = dice.choice((high, 1, 47, 20_000, 100_000, 2**31 - 1))
    else:
        depth, kind = dice.choice((1, 2, 4, 8, 16, 3)), dice.choice((0, 2, 3, 4, 6, 1))
    head = struct.pack(">IIBBBBB", wide, high, depth, kind, *rest)
    data[16:29] = head
    data[29:33] = struct.pack(">I", zlib.crc32(b"IHDR" + head))
    return data


_WAYS = (_flipped, _head_flipped, _field, _field, _cut, _lost, _twice, _spliced, _filled, _png_head)


def _odd(dice: Dice, where: Path) -> Path:
    """A sound file of a picture that is no ordinary photograph."""
    shape = dice.choice(((48, 48), (47, 300), (3000, 49), (49, 9000), (700, 500), (2, 2)))
    flat = dice.choice((0, 255, 128, None))
    if flat is None:
        noise = np.random.default_rng(dice.randrange(10**6))
        pixels = noise.integers(0, 256, (*shape, 3), np.uint8)
    else:
        pixels = np.full((*shape, 3), flat, np.uint8)
    ending = dice.choice(("png", "jpg", "webp", "tif", "bmp", "gif"))
    path = where / f"odd.{ending}"
    Image.fromarray(pixels).save(path)
    return path


def _profile() -> bytes:
    from PIL import ImageCms

    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def _heif(picture: Image.Image, path: Path) -> None:
    """Where a library that can write it is there."""
    try:
        from pillow_heif import from_pillow

        buffer = io.BytesIO()
        from_pillow(picture).save(buffer, quality=50)
    except (ImportError, AttributeError, RuntimeError, OSError):
        return
    path.write_bytes(buffer.getvalue())
