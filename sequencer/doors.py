"""What public calls are given: of the kind that they take, else a clear word about what is not."""

from __future__ import annotations

import math
from collections.abc import Iterable
from numbers import Integral, Real
from os import PathLike, fspath
from pathlib import Path
from reprlib import repr as shown
from typing import Any, TypeVar

import numpy as np

from sequencer.errors import UsageError
from sequencer.models import Plan, Print, Sequence

Thing = TypeVar("Thing")


def one(name: str, given: Any, kind: type[Thing] | tuple[type[Thing], ...], what: str) -> Thing:
    """``given`` itself, of this kind; ``what`` says in words which that is.

    Raises:
        UsageError: it is of another.
    """
    if not isinstance(given, kind):
        raise UsageError(f"'{name}' needs {what}, not {shown(given)}.")
    return given


def word(name: str, given: Any) -> str:
    """A text. Raises UsageError."""
    return one(name, given, str, "a word")


def listed(name: str, given: Any, kind: type[Thing], what: str) -> list[Thing]:
    """All of them, each of this kind. Raises UsageError."""
    if isinstance(given, (str, bytes)) or not isinstance(given, Iterable):
        raise UsageError(f"'{name}' needs {what}, not {shown(given)}.")
    return [one(name, each, kind, what) for each in given]


def prints(given: Any) -> list[Print]:
    """The argument ``prints``. Raises UsageError."""
    return listed("prints", given, Print, "a list of prints, as read_photos gives them")


def plan(given: Any) -> Plan:
    """The argument ``plan``. Raises UsageError."""
    return one("plan", given, Plan, "a plan, as plan_columns gives it")


def sequence(name: str, given: Any) -> Sequence:
    """An order of prints. Raises UsageError."""
    return one(name, given, Sequence, "a sequence, as find_sequence gives it")


def path(name: str, given: Any) -> Path:
    """Where a file lies. Raises UsageError."""
    place = fspath(given) if isinstance(given, (str, PathLike)) else given
    if not isinstance(place, str) or "\0" in place:
        raise UsageError(f"'{name}' needs the path of a file, not {shown(given)}.")
    return Path(place)


def flag(name: str, given: Any) -> bool:
    """A yes or no. Raises UsageError."""
    return bool(one(name, given, (bool, np.bool_), "True or False"))


def whole(name: str, given: Any) -> int:
    """A whole number of 0 or more. Raises UsageError."""
    if not isinstance(given, Integral) or isinstance(given, bool) or given < 0:
        raise UsageError(f"'{name}' needs a whole number of 0 or more, not {shown(given)}.")
    return int(given)


def above_zero(name: str, given: Any, what: str) -> float:
    """A finite number above 0. Raises UsageError."""
    usable = isinstance(given, Real) and not isinstance(given, bool) and math.isfinite(given)
    if not usable or given <= 0:
        raise UsageError(f"'{name}' needs {what}, a number above 0, not {shown(given)}.")
    return float(given)
