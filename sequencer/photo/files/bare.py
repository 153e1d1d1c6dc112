"""A photograph's file without what it tells beside the picture: place, time, owner, thumbnails.

JPEG, PNG and WebP are taken apart by their own structure, so that the picture's data stay byte for
byte; what reading a photograph needs (which side is up, colour profile, camera, focal length) is
written anew. Other kinds are saved as a PNG or, from HEIC, as a fine JPEG.

Structures: JPEG, ITU-T T.81 annex B and CIPA DC-008 (Exif); PNG, W3C 2025, section 11; WebP, RFC
9649, section 2.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from zlib import crc32

from PIL import ExifTags, Image, ImageOps

from sequencer.errors import PhotoError
from sequencer.photo.files.opening import open_picture

_EXIF = b"Exif\x00\x00"
"""What an Exif segment of a JPEG begins with (CIPA DC-008)."""
_TAKEN_APART = ("JPEG", "PNG", "WEBP")
_KEPT_PNG = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND", b"iCCP", b"sRGB", b"gAMA",
                       b"cHRM", b"sBIT", b"bKGD", b"pHYs"})  # fmt: skip
_KEPT_WEBP = frozenset({b"VP8 ", b"VP8L", b"ICCP", b"ALPH"})
"""Chunks that make the picture and its colours (PNG, section 11; RFC 9649, section 2)."""
_BASE = (ExifTags.Base.Orientation, ExifTags.Base.Make, ExifTags.Base.Model)
_IN_EXIF = (ExifTags.Base.FocalLengthIn35mmFilm, ExifTags.Base.LensModel,
            ExifTags.Base.ColorSpace)  # fmt: skip


def bare(path: Path) -> tuple[bytes, str]:
    """The file's bytes without what they tell of anything but the picture, and its ending.

    Raises:
        PhotoError: it is no picture that can be taken apart.
    """
    try:
        data = path.read_bytes()
        if data[:2] == b"\xff\xd8":
            return b"".join(_jpeg(data, _needed(data))), ".jpg"
        if data[:8] == b"\x89PNG\r\n\x1a\n":
            return b"".join(_png(data, _needed(data))), ".png"
        if data[:4] == b"RIFF" and data[8:12] == b"WEBP" and b"ANIM" not in data[:64]:
            return _webp(data, _needed(data)), ".webp"
        return _saved_anew(path)
    except Exception as error:  # decoders raise nearly anything
        raise PhotoError(path.name, f"its file cannot be taken apart ({error})") from None


def _needed(data: bytes) -> bytes:
    """An Exif block of the few things that reading needs; empty where there are none."""
    with Image.open(io.BytesIO(data), formats=_TAKEN_APART) as image:
        told = image.getexif()
        inner = told.get_ifd(ExifTags.IFD.Exif)
    fresh = Image.Exif()
    for tag in _BASE:
        if tag in told:
            fresh[tag] = told[tag]
    kept = {int(tag): inner[tag] for tag in _IN_EXIF if tag in inner}
    if kept:
        fresh.get_ifd(ExifTags.IFD.Exif).update(kept)
    return fresh.tobytes() if fresh or kept else b""


# ── JPEG ──────────────────────────────────────────────────────────────────────────────────


def _jpeg(data: bytes, exif: bytes) -> Iterator[bytes]:
    """Start, our Exif, the segments that make the picture, end; nothing after it."""
    yield b"\xff\xd8"
    told = _EXIF + exif.removeprefix(_EXIF)
    if exif and len(told) < 65_000:
        yield b"\xff\xe1" + (len(told) + 2).to_bytes(2, "big") + told
    at = 2
    while True:
        while data[at] == 0xFF and data[at + 1] == 0xFF:
            at += 1  # fill bytes
        if data[at] != 0xFF:
            raise ValueError("no marker where one must be")
        marker = data[at + 1]
        if marker == 0xD9:
            yield b"\xff\xd9"
            return
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        end = at + 2 + length
        if marker == 0xDA:
            end = _after_scan(data, end)
        if end > len(data):
            raise ValueError("it ends too early")
        if _makes_the_picture(marker, data[at + 4 : at + 16]):
            yield data[at:end]
        at = end


def _makes_the_picture(marker: int, head: bytes) -> bool:
    """Application segments tell other things, but for the profile and how colours are stored."""
    if marker == 0xFE:
        return False
    if 0xE0 <= marker <= 0xEF:
        return (marker == 0xE0 and head.startswith(b"JFIF\x00")) or head.startswith(
            (b"ICC_PROFILE\x00", b"Adobe"))
    return True


def _after_scan(data: bytes, at: int) -> int:
    """Past the compressed data: at the next marker that is neither stuffing nor a restart."""
    while True:
        at = data.index(b"\xff", at)
        if data[at + 1] != 0 and not 0xD0 <= data[at + 1] <= 0xD7 and data[at + 1] != 0xFF:
            return at
        at += 1 if data[at + 1] == 0xFF else 2


# ── PNG, WebP ─────────────────────────────────────────────────────────────────────────────


def _png(data: bytes, exif: bytes) -> Iterator[bytes]:
    yield data[:8]
    at = 8
    while True:
        length, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        end = at + 12 + length
        if end > len(data):
            raise ValueError("it ends too early")
        if kind == b"IDAT" and exif:
            body = b"eXIf" + exif.removeprefix(_EXIF)
            yield (len(body) - 4).to_bytes(4, "big") + body + crc32(body).to_bytes(4, "big")
            exif = b""
        if kind in _KEPT_PNG:
            yield data[at:end]
        if kind == b"IEND":
            return
        at = end


def _webp(data: bytes, exif: bytes) -> bytes:
    """Exif is told only where the extended form has a place for it."""
    chunks = [(kind, body) for kind, body in _riff(data)]
    extended = [body for kind, body in chunks if kind == b"VP8X"]
    parts = [(kind, body) for kind, body in chunks if kind in _KEPT_WEBP]
    if extended:
        flags = extended[0][0] & ~0x0C | (0x08 if exif else 0)
        parts.insert(0, (b"VP8X", bytes([flags]) + extended[0][1:]))
        if exif:
            parts.append((b"EXIF", exif.removeprefix(_EXIF)))
    body = b"WEBP" + b"".join(
        kind + len(part).to_bytes(4, "little") + part + b"\x00" * (len(part) % 2)
        for kind, part in parts
    )
    return b"RIFF" + len(body).to_bytes(4, "little") + body


def _riff(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 12
    while at + 8 <= len(data):
        length = int.from_bytes(data[at + 4 : at + 8], "little")
        if at + 8 + length > len(data):
            raise ValueError("it ends too early")
        yield data[at : at + 4], data[at + 8 : at + 8 + length]
        at += 8 + length + length % 2


# ── the rest ──────────────────────────────────────────────────────────────────────────────


def _saved_anew(path: Path) -> tuple[bytes, str]:
    """Decoded, upright, and saved without anything beside its profile."""
    buffer = io.BytesIO()
    with open_picture(path) as image:
        profile, fine = image.info.get("icc_profile"), image.format == "HEIF"
        upright = ImageOps.exif_transpose(image).copy()
        upright.info.clear()
        if fine:
            upright.convert("RGB").save(
                buffer, "JPEG", quality=95, subsampling=0, icc_profile=profile)
            return buffer.getvalue(), ".jpg"
        upright.save(buffer, "PNG", icc_profile=profile)
    return buffer.getvalue(), ".png"
