"""Loose arguments read one by one: a length, a list of widths, a size, ids; errors name them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer import doors
from sequencer.errors import PlanError, UsageError
from sequencer.inches import parse_length, parse_size, show_length
from sequencer.models import Print
from sequencer.models import Sequence as Ordered
from sequencer.plan.asked.customs import LARGEST_SIDE, MM, MOST_COLUMNS

Length = str | int | float | Fraction


def choose(name: str, given: str, among: Sequence[str]) -> str:
    """``given`` if it is one of ``among``; UsageError naming them otherwise."""
    if not isinstance(given, str) or given not in among:
        raise UsageError(f"{name} '{given}' is unknown. Choose {' or '.join(among)}.")
    return given


def ordered_ids(prints: Sequence[Print], seq: Ordered | Sequence[str]) -> tuple[str, ...]:
    """The ids of the sequence, each known among the prints and there once.

    Raises:
        UsageError: no ids, an id that no print has, or one that comes twice.
        PlanError: fewer than two prints.
    """
    order = seq.order if isinstance(seq, Ordered) else seq
    ids = tuple(doors.listed("seq", order, str, "a sequence of prints, or a list of their ids"))
    known = {item.id for item in prints}
    unknown = [item for item in ids if item not in known]
    if unknown:
        raise UsageError(f"The sequence names {', '.join(unknown)}, but no such print was read.")
    twice = sorted({item for item in ids if ids.count(item) > 1})
    if twice:
        raise UsageError(f"The sequence names {', '.join(twice)} more than once.")
    if len(ids) < 2:
        raise PlanError(f"A panel needs two prints or more; the sequence has {len(ids)}.")
    return ids


def check_ids(name: str, given: Sequence[str], ids: Sequence[str]) -> frozenset[str]:
    """``given`` as a set; UsageError for ids that are not in the sequence."""
    given = [str(item) for item in listed(name, given)]
    unknown = sorted(set(given) - set(ids))
    if unknown:
        raise UsageError(f"{name}: {', '.join(unknown)} is not in the sequence.")
    return frozenset(given)


def read_pieces(
    given: Mapping[str, Sequence[Sequence[Length]]] | None, ids: Sequence[str]
) -> dict[str, list[list[Fraction]]]:
    """Pieces of each strip by print, every one longer than nothing."""
    if given is None:
        return {}
    if not isinstance(given, Mapping):
        raise UsageError("Pieces: give a mapping from print to the pieces of each strip.")
    check_ids("Pieces", list(given), ids)
    return {
        key: [
            [length("Piece", piece, Fraction(1, 8)) for piece in listed("Pieces", strip)]
            for strip in listed("Pieces", strips)
        ]
        for key, strips in given.items()
    }


def listed(name: str, given: Any) -> list[Any]:
    """``given`` as a list; a text is split at its commas."""
    if isinstance(given, str):
        return given.split(",")
    try:
        return list(given)
    except TypeError:
        raise UsageError(f"{name} {given!r} is not a list.") from None


def number(name: str, given: Any, least: float, most: float) -> float:
    """A finite number from ``least`` to ``most``."""
    try:
        found = float(given)
    except (TypeError, ValueError, OverflowError):
        raise UsageError(f"{name} {given!r} is not a number.") from None
    if not least <= found <= most:
        raise UsageError(f"{name} {given} makes no sense: give {least:g} to {most:g}.")
    return found


def length(name: str, given: Length, least: Fraction = Fraction(0)) -> Fraction:
    """Parse a length no shorter than ``least``; errors name the option."""
    if isinstance(given, bool) or (isinstance(given, float) and not math.isfinite(given)):
        raise UsageError(f"{name} {given} is not a length.")
    found = parse_length(given)
    if found < least:
        raise UsageError(f"{name} {given} is too small: give at least {show_length(least)}.")
    return found


def parse_widths(name: str, given: str | Sequence[Length] | None) -> tuple[Fraction, ...] | None:
    """``W,W,…`` or a sequence of lengths; None stays None."""
    if given is None:
        return None
    parts = listed(name, given)
    if not parts:
        raise UsageError(f"{name} lists no widths.")
    if len(parts) > MOST_COLUMNS:
        raise PlanError(f"{len(parts)} columns are too many: {MOST_COLUMNS} at most.")
    widths = tuple(length(name, part) for part in parts)
    if min(widths) <= 0:
        raise UsageError(f"{name}: every width must be more than zero.")
    return widths


def parse_offsets(given: str | Sequence[int] | None) -> tuple[int, ...] | None:
    """``N,N,…`` or a sequence of whole numbers; None stays None."""
    if given is None:
        return None
    parts = listed("Offsets", given)
    if not parts:
        raise UsageError("Offsets lists no numbers.")
    if len(parts) > MOST_COLUMNS:
        raise PlanError(f"{len(parts)} columns are too many: {MOST_COLUMNS} at most.")
    try:
        found = tuple(int(part) for part in parts)
    except (TypeError, ValueError, OverflowError):
        raise UsageError(f"Offsets '{given}' are not whole numbers. Write them like 0,1,2,1.")\
            from None
    if any(abs(offset) > 1_000_000 for offset in found):
        raise UsageError("Offsets are counted in prints; a million is too many.")
    return found


def iso_216(number: int) -> tuple[Fraction, Fraction]:
    """Width and height of the upright sheet A0 to A10: 841 x 1189 mm, halved, whole millimetres."""
    width, height = 841, 1189
    for _ in range(number):
        width, height = height // 2, width
    return width * MM, height * MM


def read_size(size: str | Sequence[Length] | None) -> tuple[Fraction, Fraction] | None:
    """``WxH``, a pair of lengths, or A0 to A10 upright (ISO 216); None stays None."""
    if size is None:
        return None
    if isinstance(size, str) and (sheet := re.fullmatch(r"\s*[aA](\d|10)\s*", size)):
        found = iso_216(int(sheet[1]))
    elif isinstance(size, str):
        found = parse_size(size)
    else:
        parts = listed("Size", size)
        if len(parts) != 2:
            raise UsageError(f"Size {size} is not width and height.")
        found = (length("Width", parts[0]), length("Height", parts[1]))
    if min(found) <= 0:
        raise UsageError("Size: both numbers must be more than zero.")
    if max(found) > LARGEST_SIDE:
        raise PlanError(f"{show_length(max(found))} is wider than any bed: "
                        f"{show_length(LARGEST_SIDE)} at most.")  # fmt: skip
    return found


def read_strips(
    ids: tuple[str, ...], strip: Any, custom: Fraction
) -> dict[str, Fraction] | None:
    """Finished strip of each print: one width, a list in sequence, a mapping; None for 'fit'."""
    if isinstance(strip, str) and strip == "fit":
        return None
    if strip is None:
        return dict.fromkeys(ids, custom)
    if isinstance(strip, str) and "=" in strip:
        strip = dict(part.split("=", 1) for part in strip.split(",") if "=" in part)
    if isinstance(strip, Mapping):
        unknown = set(strip) - set(ids)
        if unknown:
            raise UsageError(f"Strip widths for {', '.join(sorted(unknown))}: not in the sequence.")
        missing = [item for item in ids if item not in strip]
        if missing:
            raise UsageError(f"No strip width for {', '.join(missing)}.")
        found = [length("Strip", strip[item]) for item in ids]
    elif (isinstance(strip, str) and "," not in strip) or isinstance(strip, (int, float, Fraction)):
        found = [length("Strip", strip)] * len(ids)
    else:
        found = [length("Strip", part) for part in listed("Strip", strip)]
        if len(found) != len(ids):
            raise UsageError(f"{len(found)} strip widths for {len(ids)} prints.")
    if min(found) <= 0:
        raise UsageError("Strip: every width must be more than zero.")
    return dict(zip(ids, found, strict=True))
