"""What reaches the terminal: never a control character that came in with a name or a file.

A file name, a print's name or a line out of a damaged file may hold escape sequences, which a
terminal would obey, or marks that turn the direction of a line.
"""

from __future__ import annotations

import re
from typing import Any

from sequencer.files import shown


def tamed(text: str) -> str:
    """The text with its lines and tabs, all else that steers a terminal shown as �."""
    return "".join(part if part in "\n\t" else shown(part) for part in re.split("([\n\t])", text))


def say(text: object) -> None:
    """Print the tamed text to standard output."""
    print(tamed(str(text)))


class Tame:
    """A render hook of rich: the words of what is printed are tamed, its colours stay."""

    def process_renderables(self, renderables: list[Any]) -> list[Any]:
        """Wrap each of them."""
        return [_Tamed(each) for each in renderables]


class _Tamed:
    def __init__(self, inner: Any) -> None:
        self._inner = inner

    def __rich_console__(self, console: Any, options: Any) -> Any:
        from rich.segment import Segment

        for part in console.render(self._inner, options):
            yield part if part.control else Segment(tamed(part.text), part.style)
