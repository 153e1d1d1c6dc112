"""Strip sets, sewing steps, seams, layers and tolerance."""

from sequencer.plan.sewing.layers import count_layers
from sequencer.plan.sewing.seams import count_seams
from sequencer.plan.sewing.sets import StripSet, plan_sets, set_lengths
from sequencer.plan.sewing.steps import sewing_steps
from sequencer.plan.sewing.tolerance import simulate_precision

__all__ = [
    "StripSet",
    "count_layers",
    "count_seams",
    "plan_sets",
    "set_lengths",
    "sewing_steps",
    "simulate_precision",
]
