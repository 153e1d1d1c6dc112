"""Kinds of values that records are made of, and their JSON form."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

Lab = tuple[float, float, float]
Pixels = NDArray[np.uint8]
Json = dict[str, Any]
Progress = Callable[[int, int, str], None]
"""Called as progress(done, total, what) by long work; a face decides how to show it."""


def plain(value: Any) -> Any:
    """The JSON form of a nested value: Fractions become strings, tuples lists."""
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value


def rounded(lab: Lab) -> list[float]:
    """A colour's three numbers, rounded for JSON."""
    return [round(float(part), 4) for part in lab]


def maybe(number: float | None) -> float | None:
    """A figure rounded for JSON; None stays None."""
    return None if number is None else round(float(number), 6)
