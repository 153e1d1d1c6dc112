"""Wishes as they are kept: the options of ``read``, ``order`` and ``plan``, name by name.

A wish that is not listed here can neither be saved nor loaded. Their meaning is checked where they
are used; here only their kind and that they are of sane size.

Two things must not stand in one union, since msgspec (to 0.22) then reads past its own memory when
garbage is collected: a text with a pattern beside a list or mapping, and anything with limits
beside a tuple of fixed length. A test looks at every field. ``Plain`` texts stand there instead,
and are looked through in :mod:`sequencer.keeping.checking`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from msgspec import Meta, Struct

NO_CONTROL = r"^(?![\s\S]*[\x00-\x1f\x7f-\x9f])"

Plain = Annotated[str, Meta(max_length=4000)]
Text = Annotated[str, Meta(max_length=4000, pattern=NO_CONTROL)]
Word = Annotated[str, Meta(max_length=120, pattern=NO_CONTROL)]
Id = Annotated[str, Meta(max_length=120, pattern=r'^(?!\.)[^\x00-\x20\x7f-\x9f/\\:*?"<>|=,]+$')]
"""A plain file name: no folder, no control character, nothing a command line would take apart."""
Ids = Annotated[list[Id], Meta(max_length=5000)]
Pairs = Annotated[list[tuple[Id, Id]], Meta(max_length=5000)]
Length = Annotated[str, Meta(max_length=40, pattern=NO_CONTROL)]
"""A length as typed: "1/4", "2 1/2 in", "3cm"."""
Lengths = Annotated[list[Length], Meta(max_length=5000)]
Figure = Annotated[float, Meta(ge=0, le=1e6)]
Signed = Annotated[float, Meta(ge=-1e6, le=1e6)]
Count = Annotated[int, Meta(ge=0, le=1_000_000)]
Pixel = Annotated[float, Meta(ge=-1e6, le=1e6)]
Points = Annotated[list[tuple[Pixel, Pixel]], Meta(max_length=20_000)]
Wholes = Annotated[list[Annotated[int, Meta(ge=-1_000_000, le=1_000_000)]], Meta(max_length=5000)]


class Wishes(Struct, forbid_unknown_fields=True, omit_defaults=True):
    """Base: a wish that was not typed is left out."""


class ReadWishes(Wishes):
    """How a photograph is read."""

    shows: Literal["auto", "one", "many"] | None = None
    reference: Word | None = None
    scale: Length | None = None
    marked: Points | None = None
    card: Points | None = None
    camera: Word | None = None
    without_patches: Wholes | None = None


class OrderWishes(Wishes):
    """What the sequence must be like."""

    pick: Count | Annotated[list[Count], Meta(min_length=2, max_length=2)] | None = None
    enough: bool | None = None
    loop: bool | None = None
    first: Id | None = None
    last: Id | None = None
    include: Ids | None = None
    exclude: Ids | None = None
    together: Pairs | None = None
    apart: Pairs | None = None
    before: Pairs | None = None
    aim: Literal["even", "total", "worst"] | None = None
    distinct: Figure | None = None
    value_range: Figure | None = None
    alternatives: Count | None = None
    seconds: Figure | None = None
    sequence: Ids | None = None


class PlanWishes(Wishes):
    """What the panel must be like."""

    size: Plain | Lengths | None = None
    largest_piece: bool | None = None
    best_at: Word | None = None
    strip: Plain | Annotated[dict[Id, Length], Meta(max_length=5000)] | None = None
    repeats: Count | None = None
    curve: Plain | dict[Word, Any] | None = None
    curve_height: Figure | None = None
    curve_count: Figure | None = None
    curve_phase: Signed | None = None
    columns: Lengths | None = None
    offsets: Wholes | None = None
    steps: Wholes | None = None
    smallest: Length | None = None
    largest: Length | None = None
    symmetric: bool | None = None
    grid: Length | None = None
    seam: Length | None = None
    method: Word | None = None
    press: Word | None = None
    sets: Word | None = None
    squaring: Length | None = None
    usable: Length | None = None
    join: Word | None = None
    border: Plain | Lengths | None = None
    corners: Word | None = None
    border_print: Id | None = None
    binding: Length | None = None
    binding_print: Id | None = None
    backing: Length | None = None
    directional: Ids | None = None
    units: Literal["in", "cm"] | None = None
    joins: Word | None = None
    straighten: Length | None = None
    spare: Length | None = None
    set_length: Length | None = None
    tolerance: Length | None = None
    price: Figure | None = None
    seed: Count | None = None
    use_up: bool | None = None
    fitted: Annotated[dict[Id, Length], Meta(max_length=5000)] | None = None
