"""What one photograph gave, kept so that it is not read twice.

Any frozen record can be kept: its fields are written by their types and read back by them, so that
a file from elsewhere can bring nothing but such a record. A reading that a newer program no longer
understands counts as not there; the photograph is then read again.
"""

from __future__ import annotations

import base64
import zlib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar, get_origin

import msgspec
import numpy as np

from sequencer.files import fingerprint, read_ordinary
from sequencer.models import Swatch

Kept = TypeVar("Kept")
KeepSwatch = Callable[[Swatch], str]
"""Keeps a swatch and returns its fingerprint."""
_LARGEST = 256_000_000


def key_of(*asked: Any) -> str:
    """The fingerprint of everything that decides what a reading gives."""
    return fingerprint(msgspec.json.encode(asked, enc_hook=_plain))


def reading_bytes(key: str, reading: Any, keep_swatch: KeepSwatch) -> bytes:
    """A reading as the bytes of a file, under the key of what was asked."""

    def plain(value: Any) -> Any:
        if isinstance(value, Swatch):
            return {"swatch": keep_swatch(value), "ppi": value.ppi}
        return _plain(value)

    text = msgspec.json.encode({"key": key, "reading": reading}, enc_hook=plain)
    return zlib.compress(text, 6)


def reading_from(path: Path, key: str, kind: type[Kept], swatches: Path) -> Kept | None:
    """The reading in a file, if it answers this key and all it needs is there; else None."""

    def made(wanted: type, value: Any) -> Any:
        if wanted is Swatch:
            file = swatches / f"{value['swatch']}.png"
            if not file.is_file():
                raise ValueError("its swatch is gone")
            return Swatch(file, value["ppi"], content=value["swatch"])
        return _made(wanted, value)

    try:
        text = zlib.decompressobj().decompress(read_ordinary(path, _LARGEST), _LARGEST)
        told = msgspec.json.decode(text)
        if told["key"] != key:
            return None
        return msgspec.convert(told["reading"], kind, dec_hook=made)
    except (OSError, ValueError, KeyError, TypeError, RecursionError, zlib.error, ArithmeticError):
        return None


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        data = base64.b85encode(np.ascontiguousarray(value).tobytes()).decode()
        return {"dtype": value.dtype.str, "shape": value.shape, "data": data}
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, Path):
        return value.name
    if isinstance(value, Swatch):
        return [_plain(value.source), value.ppi]
    if isinstance(value, bytes):
        return fingerprint(value)
    raise NotImplementedError(f"{type(value).__name__} cannot be kept")


def _made(wanted: type, value: Any) -> Any:
    if wanted is Fraction:
        return Fraction(value)
    if (get_origin(wanted) or wanted) is np.ndarray:
        flat = np.frombuffer(base64.b85decode(value["data"]), np.dtype(value["dtype"]))
        return flat.reshape(value["shape"])
    raise ValueError(f"{wanted} is not kept")
