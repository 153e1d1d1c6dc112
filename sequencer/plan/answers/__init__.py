"""Searches: the largest, the best, and ways out of a shortage."""

from sequencer.plan.answers.asking import ask
from sequencer.plan.answers.going_on import go_on
from sequencer.plan.answers.pieces import best_at, best_piece, largest_piece
from sequencer.plan.answers.waysout import WayOut, ways_out

__all__ = [
    "WayOut",
    "ask",
    "best_at",
    "best_piece",
    "go_on",
    "largest_piece",
    "ways_out",
]
