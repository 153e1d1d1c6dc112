"""Curves: by name, from a file, or from points."""

from sequencer.plan.curve.curves import Curve, Floats, Points, heights, read_curve, rise

__all__ = [
    "Curve",
    "Floats",
    "Points",
    "heights",
    "read_curve",
    "rise",
]
