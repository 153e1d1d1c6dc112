"""What is said of a reference: where it lies, what is doubtful, what to type."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.files.load import Photo
from sequencer.photo.reference.likeliest import SURE_ENOUGH, Candidate
from sequencer.photo.reference.patches import (
    FEWEST,
    Target,
    like_one,
    shown_within,
    under_glare,
)

Floats = NDArray[np.floating]

_WORTH_A_WORD = 0.3  # how likely one is that is told though not used
_LOOKS_LIKE = {"sheet": ("white sheet", "pale scrap"), "grey": ("grey card", "plain scrap")}


def how_it_lies(target: Target) -> str | None:
    """What is unusual about a target that is used."""
    hidden = int(np.isnan(target.encoded).any(axis=1).sum())
    notes = ["this photo is mirrored, as a selfie camera's is"] if target.mirrored else []
    if target.cast:
        notes.append(
            "the light is so strongly coloured that a quarter of the target's patches lost their "
            "colour: all colours of this photo are far less certain; photograph by daylight, away "
            "from lamps"
        )
    if target.glare:
        notes.append(
            f"of the target's patches {_numbers(target.glare)} seem to lie under glare: if so, "
            f"read it again {_without(target.glare)}"
        )
    if hidden:
        notes.append(f"{hidden} of the target's 24 patches do not show: its colours are less sure")
    return "; ".join(notes) or None


def _numbers(patches: Sequence[int]) -> str:
    return ", ".join(str(one + 1) for one in patches)


def _without(patches: Sequence[int]) -> str:
    return f"with --without-patches {','.join(str(one + 1) for one in patches)}"


_CALLED = {"sheet": "white sheet", "grey": "grey card", "target": "target"}


def taken(best: Candidate, photo: Photo) -> str | None:
    """Where the thing asked for was taken to lie, where that is not plain."""
    if best.sure >= SURE_ENOUGH:
        return None
    x, y = best.centre * photo.factor
    return (
        f"the {_CALLED[best.kind]} was taken to lie at {x:.0f}, {y:.0f}, about {best.sure:.0%} "
        f"sure; if it lies elsewhere, say where: {_how_to_mark(best.kind)}"
    )


def not_found(wanted: str, why: str, photo: Photo) -> str:
    """That what was asked for by name is nowhere, and what to type."""
    width, height = photo.full_size
    return (
        f"no {_CALLED[wanted]} was found, though it was asked for: looked at the whole picture of "
        f"{width} × {height} pixels, {why}; say where it lies by two opposite corners: "
        f"{_how_to_mark(wanted)}"
    )


def too_little() -> str:
    """That too few patches of the target asked for are in the picture."""
    return (
        f"too little of the target is in the picture: it takes {FEWEST} of its 24 patches; "
        "photograph it whole, or use a white sheet or grey card instead"
    )


def _how_to_mark(kind: str) -> str:
    return f"--reference {kind} --marked X,Y X,Y"


def doubt(best: Candidate, used: bool, factor: float) -> str | None:
    """What nobody asked for and may be a reference or a scrap, ``used`` or not."""
    if not _WORTH_A_WORD <= best.sure < SURE_ENOUGH:
        return None
    like, may_be = _LOOKS_LIKE[best.kind]
    x, y = best.centre * factor
    if used:
        return (
            f"something at {x:.0f}, {y:.0f} was taken for a {like}, so the colours hang on it; if "
            f"it is a {may_be}, give the reference as none"
        )
    return (
        f"something at {x:.0f}, {y:.0f} looks like a {like} but may be a {may_be}, so it was not "
        f"used; if it is one, give the reference as {best.kind} or mark it"
    )


def left_out(best: Candidate, photo: Photo) -> str:
    """That it is counted as no cloth, though the photo is read without a reference."""
    like, may_be = _LOOKS_LIKE[best.kind]
    x, y = best.centre * photo.factor
    return (
        f"something at {x:.0f}, {y:.0f} looks like a {like}, so it is no scrap here; if it is a "
        f"{may_be}, draw it: passalong add FOLDER {photo.name} --outline X,Y X,Y X,Y X,Y"
    )


def no_target(photo: Photo, corners: Floats) -> str:
    """Why what was marked as a target cannot be read as one."""
    glare = under_glare(photo.pixels, corners)
    if glare:
        return (
            "the marked area does not show the 24 patches of a target, as patches "
            f"{_numbers(glare)} seem to lie under glare; read it {_without(glare)}, or photograph "
            "it again"
        )
    if shown_within(photo.pixels, corners) < FEWEST:
        return too_little()
    if like_one(photo.pixels, corners):
        return (
            "the marked area is like the 24 patches of a target, but not near enough to be read; "
            "mark its outer corners closely, and where the light is strongly coloured photograph "
            "it by daylight, away from lamps, or mark a grey card instead"
        )
    return (
        "the marked area does not show the 24 patches of a target; mark its outer corners, or mark "
        "a white sheet or grey card instead"
    )
