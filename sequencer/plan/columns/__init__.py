"""Columns that follow a curve best."""

from sequencer.plan.columns.fitting import fit_columns
from sequencer.plan.columns.follow import Followed, follow
from sequencer.plan.columns.line import line_of, page_line, unwrapped

__all__ = [
    "Followed",
    "fit_columns",
    "follow",
    "line_of",
    "page_line",
    "unwrapped",
]
