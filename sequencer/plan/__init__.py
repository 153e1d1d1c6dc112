"""Sequence → panel: columns along a curve, strips and scraps, sewing steps, finishing.

Read :mod:`sequencer.plan.planner` first; it is the room's road. Everything loads on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sequencer.plan.answers.pieces import best_at, best_piece, largest_piece
    from sequencer.plan.answers.waysout import ways_out
    from sequencer.plan.curve.curves import Curve, read_curve
    from sequencer.plan.kept import plan_from_json
    from sequencer.plan.planner import plan_columns, replan
    from sequencer.plan.scaling.scale import scale

_HOME = {
    "plan_columns": "sequencer.plan.planner",
    "replan": "sequencer.plan.planner",
    "read_curve": "sequencer.plan.curve.curves",
    "Curve": "sequencer.plan.curve.curves",
    "best_at": "sequencer.plan.answers.pieces",
    "best_piece": "sequencer.plan.answers.pieces",
    "largest_piece": "sequencer.plan.answers.pieces",
    "scale": "sequencer.plan.scaling.scale",
    "plan_from_json": "sequencer.plan.kept",
    "ways_out": "sequencer.plan.answers.waysout",
}

__all__ = [
    "Curve", "best_at", "best_piece", "largest_piece", "plan_columns", "plan_from_json",
    "read_curve", "replan", "scale", "ways_out",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'sequencer.plan' has no attribute '{name}'")
    return getattr(import_module(_HOME[name]), name)
