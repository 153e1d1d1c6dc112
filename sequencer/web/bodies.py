"""What a page may send: every field with its kind and its limits; anything else is refused."""

from __future__ import annotations

from typing import Annotated, Any, TypeVar

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType
from starlette.requests import Request

from sequencer.errors import PassalongError, UsageError

LARGEST = 1_000_000
"""Bytes of a change; photographs go their own way."""
Word = Annotated[str, Meta(max_length=200)]
Ids = Annotated[list[Word], Meta(max_length=5000)]
Pixel = Annotated[float, Meta(ge=-1e6, le=1e6)]
Line = Annotated[list[tuple[Pixel, Pixel]], Meta(max_length=2000)]
Heights = Annotated[list[Annotated[float, Meta(ge=-1000, le=1000)]], Meta(max_length=1025)]
Wishes = Annotated[dict[Word, Any], Meta(max_length=60)]
Serial = Annotated[int, Meta(ge=0)]
Ppi = Annotated[float, Meta(gt=0, le=1200)]
Sides = tuple[Annotated[str, Meta(max_length=40)], Annotated[str, Meta(max_length=40)]]


class Body(Struct, forbid_unknown_fields=True):
    """Base: a field that is not listed is refused."""


class Order(Body):
    """Prints in order, by id."""

    order: Ids


class OrderWishes(Body):
    """Wishes of the order that change; null takes one back."""

    wishes: Wishes = {}


class PlanMove(Body):
    """Wishes of the plan that change, or the line drawn as heights in rows."""

    wishes: Wishes = {}
    rows: Heights | None = None
    base: int = 0


class Trial(Body):
    """A plan to look at while something is being moved."""

    wishes: Wishes | None = None
    rows: Heights | None = None
    base: int = 0
    order: Ids | None = None
    ppi: Ppi = 32
    view: Word = "colour"
    serial: Serial = 0
    frame: bool = False


class PrintChange(Body):
    """A print's name, or the scraps she measured, as typed."""

    name: Word | None = None
    sizes: Annotated[list[Sides], Meta(max_length=500)] | None = None


class Scraps(Body):
    """What is set right in the finds of a photograph."""

    op: Word
    ids: Ids = []
    line: Line = []
    photo: Word | None = None


class Marks(Body):
    """What is said of a photograph: its reference and where it lies, the card, the scale; null
    takes one back. Or what lies where she points.
    """

    reference: Word | UnsetType | None = UNSET
    marked: Line | UnsetType | None = UNSET
    card: Line | UnsetType | None = UNSET
    scale: Word | UnsetType | None = UNSET
    shows: Word | UnsetType | None = UNSET
    point: Word | UnsetType = UNSET
    at: tuple[Pixel, Pixel] | UnsetType = UNSET
    print: Word | UnsetType = UNSET


class Number(Body):
    """The number of what was offered."""

    n: Annotated[int, Meta(ge=1, le=1000)]


class Size(Body):
    """A size as typed; none for the best there is."""

    size: Word | None = None


class TooLargeError(PassalongError):
    """More was sent than is taken."""


Kind = TypeVar("Kind", bound=Body)


async def body_of(request: Request, kind: type[Kind]) -> Kind:
    """The request's body as one of these, counted while it comes in.

    Raises:
        TooLargeError: it is longer than a change can be.
        UsageError: it is not one.
    """
    data = bytearray()
    async for part in request.stream():
        data += part
        if len(data) > LARGEST:
            raise TooLargeError("That is more than a change can be.")
    try:
        return msgspec.json.decode(bytes(data) or b"{}", type=kind)
    except msgspec.DecodeError as error:
        raise UsageError(f"The page sent what is not understood: {error}.") from None
