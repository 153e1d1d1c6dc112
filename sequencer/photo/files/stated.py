"""What a photograph's file says of itself: its turn, camera, lens and further pictures in it."""

from __future__ import annotations

from pathlib import Path

from PIL import ExifTags, Image

from sequencer.photo.files.opening import open_picture


def orientation(image: Image.Image) -> int:
    """How the picture is to be turned upright (CIPA DC-008, tag 274); 1, not at all."""
    try:
        return int(image.getexif().get(ExifTags.Base.Orientation, 1))
    except Exception:  # a broken EXIF block does not make the picture unreadable
        return 1


def equivalent(image: Image.Image) -> float | None:
    """EXIF FocalLengthIn35mmFilm (CIPA DC-008, tag 41989), if there is one."""
    try:
        stated = image.getexif().get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.FocalLengthIn35mmFilm)
        return float(stated) if stated else None
    except Exception:  # a broken EXIF block does not make the picture unreadable
        return None


def taken_by(path: Path) -> tuple[str, str, str]:
    """Make, model and lens of a photo by its file's head; empty where it cannot be opened."""
    try:
        with open_picture(path) as image:
            return camera_of(image)
    except Exception:  # whether the file is any good is told where it is read
        return "", "", ""


def camera_of(image: Image.Image) -> tuple[str, str, str]:
    """Make, model and lens (CIPA DC-008, tags 271, 272, 42036), one line each."""
    try:
        exif = image.getexif()
        lens = exif.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.LensModel, "")
        make, model = (exif.get(tag, "") for tag in (ExifTags.Base.Make, ExifTags.Base.Model))
        told = [" ".join(str(one).replace("\0", " ").split())[:80] for one in (make, model, lens)]
    except Exception:  # a broken EXIF block does not make the picture unreadable
        return "", "", ""
    return told[0], told[1], told[2]


def frame_notes(image: Image.Image) -> tuple[str, ...]:
    """Say so where the file holds more pictures than are read."""
    if not getattr(image, "is_animated", False):
        return ()
    count = getattr(image, "n_frames", 2)
    return (f"the file holds {count} pictures; only the first is read",)
