"""Columns that follow a curve best."""

from sequencer.plan.columns.fitting import fit_columns
from sequencer.plan.columns.follow import Followed, follow

__all__ = [
    "Followed",
    "fit_columns",
    "follow",
]
