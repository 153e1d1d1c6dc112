"""What a typed text means: numbers, points, lists, pairs; argparse tells what is wrong with it."""

from __future__ import annotations

import argparse


def whole(text: str) -> int:
    """A whole number of 1 or more."""
    number = int(text)
    if not 1 <= number <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number of 1 or more")
    return number


def count(text: str) -> int:
    """A whole number from 0 to 1000."""
    number = int(text)
    if not 0 <= number <= 1000:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number from 0 to 1000")
    return number


def figure(text: str) -> float:
    """A number of 0 or more."""
    number = float(text)
    if not 0 <= number < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not a number of 0 or more")
    return number


def pick(text: str) -> int | tuple[int, int]:
    """So many prints: K, or LOW-HIGH."""
    low, dash, high = text.partition("-")
    if not dash:
        return whole(text)
    span = (whole(low), whole(high))
    if span[0] > span[1]:
        raise argparse.ArgumentTypeError(f"{text} runs backwards; write {span[1]}-{span[0]}")
    return span


def texts(text: str) -> list[str]:
    """Texts with commas between them."""
    return [part.strip() for part in text.split(",") if part.strip()]


def reference(text: str) -> str:
    """What has a known colour; grey=L with its lightness."""
    kind, equals, level = text.partition("=")
    if kind not in ("auto", "sheet", "grey", "target", "none") or (equals and kind != "grey"):
        raise argparse.ArgumentTypeError(
            f"'{text}' is none of auto, sheet, grey, grey=L, target, none")
    if equals:
        figure(level)
    return text


def point(text: str) -> tuple[float, float]:
    """X,Y in pixels."""
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a point; write X,Y") from None
    return x, y


def port(text: str) -> int:
    """A port that anyone may open; 0 for any that is free."""
    number = int(text)
    if number and not 1024 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is not a port from 1024 to 65535, or 0")
    return number


def whole_list(text: str) -> list[int]:
    """Whole numbers with commas between them."""
    try:
        return [int(part) for part in texts(text)]
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"'{text}' is not a list of whole numbers; write N,N") from None


def pair(text: str) -> tuple[str, str]:
    """Two different texts: A,B."""
    parts = texts(text)
    if len(parts) != 2 or parts[0] == parts[1]:
        raise argparse.ArgumentTypeError(f"'{text}' is not a pair; write A,B with two prints")
    return parts[0], parts[1]
