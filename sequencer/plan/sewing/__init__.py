"""Strip sets, sewing steps, seams, layers and tolerance."""

from sequencer.plan.sewing.layers import count_layers
from sequencer.plan.sewing.seams import count_seams
from sequencer.plan.sewing.sets import Segment, StripSet, plan_sets
from sequencer.plan.sewing.steps import Supplied, sewing_steps, strip_names
from sequencer.plan.sewing.tolerance import simulate_precision

__all__ = [
    "Segment",
    "StripSet",
    "Supplied",
    "count_layers",
    "count_seams",
    "plan_sets",
    "sewing_steps",
    "simulate_precision",
    "strip_names",
]
