"""Any picture mode with any embedded ICC profile → sRGB, by LittleCMS (Pillow's ImageCms).

Relative colorimetric intent with LittleCMS's black point handling left off: media white maps to
white and in-gamut colours stay where the profile puts them (ICC.1:2022, 6.2.3).
"""

from __future__ import annotations

import io
from functools import lru_cache

import numpy as np
from PIL import Image, ImageCms

_MODE_OF_SPACE = {"RGB": "RGB", "GRAY": "L", "CMYK": "CMYK", "LAB": "LAB"}
_INTENT = ImageCms.Intent.RELATIVE_COLORIMETRIC
_EXIF = 0x8769  # tag of the Exif block (Exif 2.32, 4.6.3)
_KEPT = 16  # profiles whose transforms are remembered; by hand
_CUBE = 17  # 8-bit values between the colours that a transform is tried on
_SIXTEEN_BITS = 65535.0  # white of 16-bit numbers
_EXIF_COLOUR_SPACE = 0xA001
"""Exif tag of the colour space; 1 there is sRGB (CIPA DC-008)."""


def to_srgb(image: Image.Image, icc: bytes | None) -> tuple[Image.Image, bool, tuple[str, ...]]:
    """Turn ``image`` into RGB holding sRGB.

    Returns the picture, whether an embedded profile was honoured, and what a user should know.
    """
    plain = image.convert(image.mode[:-1]) if image.mode in ("RGBA", "LA") else image
    if icc:
        try:
            return _through(plain, icc), True, ()
        except (ImageCms.PyCMSError, ValueError, OSError, TypeError):
            return (
                _assumed(plain),
                False,
                ("its colour profile is damaged or does not fit the picture; sRGB is assumed",),
            )
    notes: tuple[str, ...] = ()
    if plain.mode in ("CMYK", "LAB"):
        notes = (f"{plain.mode} without a colour profile: its colours are only approximate",)
    return _assumed(plain), False, notes


def states_srgb(image: Image.Image) -> bool:
    """Whether a file without a profile says by its own marks that it holds sRGB."""
    if "srgb" in image.info:
        return True
    try:
        return image.getexif().get_ifd(_EXIF).get(_EXIF_COLOUR_SPACE) == 1
    except Exception:
        return False  # a broken EXIF block says nothing


def _through(image: Image.Image, icc: bytes) -> Image.Image:
    transform, mode = _transform(icc)
    if transform is None:
        return _assumed(image)
    if image.mode != mode:
        if {image.mode, mode} - {"L", "RGB"}:
            raise ValueError(f"{mode} profile in a {image.mode} picture")
        image = image.convert(mode)
    out = ImageCms.applyTransform(image, transform)
    if out is None:
        raise ValueError("the profile could not be applied")
    return out


@lru_cache(maxsize=_KEPT)
def _transform(icc: bytes) -> tuple[ImageCms.ImageCmsTransform | None, str]:
    """The transform to sRGB and the mode it takes; no transform where it would change nothing."""
    profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
    space = profile.profile.xcolor_space.strip()
    if space not in _MODE_OF_SPACE:
        raise ValueError(f"profile for {space}")
    mode = _MODE_OF_SPACE[space]
    transform = ImageCms.buildTransform(
        profile, ImageCms.createProfile("sRGB"), mode, "RGB", _INTENT
    )
    return (None if mode == "RGB" and _is_identity(transform) else transform), mode


def _is_identity(transform: ImageCms.ImageCmsTransform) -> bool:
    steps = np.arange(0, 256, _CUBE, dtype=np.uint8)
    cube = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(len(steps) ** 2, -1, 3)
    moved = ImageCms.applyTransform(Image.fromarray(cube), transform)
    return bool(np.abs(np.asarray(moved, int) - cube.astype(int)).max() <= 1)


def _assumed(image: Image.Image) -> Image.Image:
    return image if image.mode == "RGB" else image.convert("RGB")


def eight_bit(image: Image.Image) -> Image.Image:
    """RGB, L, CMYK, LAB, or RGBA and LA where there is transparency; deep greys are scaled."""
    mode = image.mode
    if mode in ("F", "I") or mode.startswith("I;16"):
        return Image.fromarray(_scaled_down(np.asarray(image)))
    if mode in ("P", "PA", "RGBa", "RGBX") or "transparency" in image.info:
        return image.convert("LA" if mode in ("1", "L") else "RGBA")
    if mode in ("1", "La"):
        return image.convert("L" if mode == "1" else "LA")
    return image if mode in ("RGB", "L", "CMYK", "LAB", "RGBA", "LA") else image.convert("RGB")


def _scaled_down(
    values: np.ndarray[tuple[int, ...], np.dtype[np.generic]],
) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """Greys of more than 8 bits → 8 bits; the range is what the stored numbers show.

    16-bit integers run to 65535, floats by custom to 1; 32-bit files often hold 8-bit numbers.
    """
    numbers = np.nan_to_num(np.asarray(values, dtype=np.float64), posinf=0.0, neginf=0.0)
    top = float(numbers.max(initial=0.0))
    if values.dtype == np.uint16:
        white = _SIXTEEN_BITS
    elif values.dtype.kind == "f" and top <= 1.0:
        white = 1.0
    else:
        white = next((w for w in (255.0, _SIXTEEN_BITS) if top <= w), max(top, 1.0))
    return np.rint(np.clip(numbers / white, 0, 1) * 255).astype(np.uint8)
