"""What reaches the terminal: never a control character that came in with a name or a file.

A file name, a print's name or a line out of a damaged file may hold escape sequences, which a
terminal would obey, or marks that turn the direction of a line. Both are shown as what they are.
"""

from __future__ import annotations

import re
from typing import Any

_CONTROLS = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2028\u2029\u2066-\u2069\ufeff]"
)


def tamed(text: str) -> str:
    """The text with controls (but tab and newline) and marks of direction spelled ``\\x1b``."""
    return _CONTROLS.sub(_named, text)


def say(text: object) -> None:
    """Print the tamed text to standard output."""
    print(tamed(str(text)))


def tamed_json(text: str) -> str:
    """A JSON text that says the same with its controls escaped (RFC 8259, section 7)."""
    return _CONTROLS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _named(found: re.Match[str]) -> str:
    code = ord(found[0])
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


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
