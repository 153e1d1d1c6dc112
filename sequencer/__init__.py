"""Passalong: photographs of scraps → sequence → plan → picture and sewing sheets.

The public calls, in the order of the work, are loaded on first use so that importing the package
costs nothing. Tools that read the source see them with their types.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sequencer.order import find_sequence, transition_graph
    from sequencer.ordering.reporting import contrast
    from sequencer.plan import plan_columns
    from sequencer.reading.photos import read_photos
    from sequencer.reading.spots import colours_at
    from sequencer.rendering import render
    from sequencer.sheets import write_sheets

__version__ = "0.1.0"

_HOME = {
    "read_photos": "sequencer.reading.photos",
    "colours_at": "sequencer.reading.spots",
    "transition_graph": "sequencer.order",
    "find_sequence": "sequencer.order",
    "contrast": "sequencer.ordering.reporting",
    "plan_columns": "sequencer.plan",
    "render": "sequencer.rendering",
    "write_sheets": "sequencer.sheets",
}

__all__ = [  # noqa: RUF022 - the order of the work
    "read_photos",
    "colours_at",
    "transition_graph",
    "find_sequence",
    "contrast",
    "plan_columns",
    "render",
    "write_sheets",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'sequencer' has no attribute '{name}'")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
