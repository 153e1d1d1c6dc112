"""The sewing and the warnings in words."""

from sequencer.plan.words.steps import say_steps
from sequencer.plan.words.warn import plan_warnings

__all__ = [
    "plan_warnings",
    "say_steps",
]
