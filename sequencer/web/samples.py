"""The sample box: photographs that come with the program, to look round with."""

from __future__ import annotations

from pathlib import Path

from sequencer.errors import PieceError

_PLACES = (Path(__file__).parent / "sample", Path(__file__).parents[2] / "sample_images")
"""Where they lie once installed, and where in the source."""


def sample_photos() -> list[Path]:
    """The photographs of the sample box.

    Raises:
        PieceError: they did not come with this installation.
    """
    for place in _PLACES:
        found = sorted(one for one in place.glob("*") if one.suffix in (".jpg", ".webp"))
        if found:
            return found
    raise PieceError("The sample box did not come with this installation.")
