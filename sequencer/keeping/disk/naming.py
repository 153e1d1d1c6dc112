"""Ids that a command line and a file system take."""

from __future__ import annotations

import re
from collections.abc import Iterator
from hashlib import blake2b


def bases(stem: str) -> Iterator[str]:
    """A photo's stem as the beginning of ids, then stem-b, stem-c… for photos of one name."""
    safe = re.sub(r"[^\w.]+", "-", stem).strip("-._")[:60] or "photo"
    yield safe
    count = 2
    while True:
        yield f"{safe}-{_letters(count)}"
        count += 1


def _letters(count: int) -> str:
    """2 → b, 26 → z, 27 → aa."""
    text = ""
    while count:
        count, digit = divmod(count - 1, 26)
        text = chr(ord("a") + digit) + text
    return text


def nth_id(content: str, before: int) -> str:
    """The id of a photo of this content where ``before`` others hold the same bytes."""
    other = blake2b(f"{content} {before}".encode(), digest_size=16).hexdigest()
    return other if before else content


def gone_id(path: str) -> str:
    """What a photo is known by that was lost before its bytes were known: where it was."""
    return blake2b(f"was {path}".encode("utf-8", "replace"), digest_size=16).hexdigest()
