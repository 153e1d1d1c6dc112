"""Pieces for tests: a small one of version 1 as it was written, and one of today's made from it."""

import json
import shutil
from pathlib import Path
from typing import Any

VERSION_1 = Path(__file__).parents[1] / "data" / "piece-1"
PHOTOS = VERSION_1 / "photos"


def old_piece(folder: Path, photos: Path | None = None) -> Path:
    """A version 1 piece; ``photos``: where the photographs it names lie (default: gone)."""
    shutil.copytree(VERSION_1 / "box", folder)
    if photos is not None:
        text = (folder / "piece.json").read_text("utf-8")
        text = text.replace("/home/quilter/photos", photos.as_posix())
        (folder / "piece.json").write_text(text, "utf-8")
    return folder


def piece_json(folder: Path) -> dict[str, Any]:
    """The file as it lies there."""
    data: dict[str, Any] = json.loads((folder / "piece.json").read_text("utf-8"))
    return data


def write_json(folder: Path, data: Any) -> None:
    """Put other data in its place."""
    (folder / "piece.json").write_text(json.dumps(data), "utf-8")
