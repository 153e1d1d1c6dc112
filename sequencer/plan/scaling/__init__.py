"""The same design at another size, and three plain answers."""

from sequencer.plan.scaling.likeness import blocks_of, compare
from sequencer.plan.scaling.scale import Scaled, scale

__all__ = [
    "Scaled",
    "blocks_of",
    "compare",
    "scale",
]
