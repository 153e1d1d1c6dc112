"""Searches: the largest, the best, and ways out of a shortage."""

from sequencer.plan.answers.asking import ask
from sequencer.plan.answers.waysout import WayOut, ways_out

__all__ = [
    "WayOut",
    "ask",
    "ways_out",
]
