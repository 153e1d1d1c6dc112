"""Prints → transition graph → the best sequence, proved.

Everything here loads on first use: the graph and solver libraries are heavy.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sequencer.order.confidence import doubts
    from sequencer.order.find import find_sequence, find_sizes
    from sequencer.order.graph.transition import transition_graph
    from sequencer.order.scored import report_sequence, score_sequence

_HOME = {
    "transition_graph": "sequencer.order.graph.transition",
    "find_sequence": "sequencer.order.find",
    "find_sizes": "sequencer.order.find",
    "doubts": "sequencer.order.confidence",
    "score_sequence": "sequencer.order.scored",
    "report_sequence": "sequencer.order.scored",
}

__all__ = [  # noqa: RUF022 - the order of the work
    "transition_graph",
    "find_sequence",
    "find_sizes",
    "doubts",
    "score_sequence",
    "report_sequence",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'sequencer.order' has no attribute '{name}'")
    return getattr(import_module(_HOME[name]), name)
