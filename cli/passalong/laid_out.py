"""How results are laid out on a terminal: tables, colours as cells, sentences broken into lines."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable
from typing import Any

from passalong.terminal import Tame
from sequencer.models import Print
from sequencer.piece import Piece


def make_console() -> Any:
    """Where everything is printed: names tamed, as wide as the terminal."""
    from rich.console import Console

    width = None if sys.stdout.isatty() else 100
    console = Console(file=sys.stdout, highlight=False, soft_wrap=False, width=width)
    console.push_render_hook(Tame())  # type: ignore[arg-type]  # rich is loaded late
    return console


def make_table(*headings: str) -> Any:
    """Columns; a heading that starts with > holds figures and is set to the right."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for heading in headings:
        table.add_column(heading.lstrip(">"), overflow="fold",
                         justify="right" if heading[:1] == ">" else "left")
    return table


def blocks(colours: Iterable[tuple[tuple[float, float, float], float]], cells: int = 12) -> Any:
    """A palette as coloured cells, wide where the share is large."""
    from rich.text import Text

    from sequencer.colour import lab_to_srgb8

    text = Text()
    for lab, share in colours:
        red, green, blue = (int(part) for part in lab_to_srgb8(lab))
        text.append(" " * max(1, round(share * cells)), style=f"on rgb({red},{green},{blue})")
    return text


def palette(one: Print) -> Any:
    """A print's colours by their shares."""
    return blocks((colour.lab, colour.share) for colour in one.palette)


def named(piece: Piece, ids: Iterable[str]) -> list[str]:
    """Names of prints; an id where there is none."""
    called = piece.labels
    return [called.get(id_, id_) for id_ in ids]


def figure(number: float | None, form: str = ".1f") -> str:
    """A figure in a table, empty where it is not known, never −0."""
    if number is None:
        return ""
    text = format(number, form)
    return "0" if text in ("-0", "+0") else text


def print_lines(told: Iterable[str], most: int = 3) -> None:
    """Sentences, each on at most so many lines of the terminal."""
    console = make_console()
    for sentence in told:
        for line in textwrap.wrap(sentence, max(40, console.width - 1), max_lines=most,
                                  placeholder=" …", subsequent_indent="   "):
            console.print(line, markup=False, soft_wrap=True)
