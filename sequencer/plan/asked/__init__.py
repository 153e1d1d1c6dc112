"""What was asked, understood and made exact."""

from sequencer.plan.asked.customs import LARGEST_SIDE, METRIC, MM, MOST_ROWS
from sequencer.plan.asked.loose import (
    Length,
    choose,
    length,
    listed,
    number,
    parse_widths,
    read_pieces,
    read_size,
)
from sequencer.plan.asked.request import Request, join_loss
from sequencer.plan.asked.understand import understand
from sequencer.plan.asked.wishes import PlanWishes

__all__ = [
    "LARGEST_SIDE",
    "METRIC",
    "MM",
    "MOST_ROWS",
    "Length",
    "PlanWishes",
    "Request",
    "choose",
    "join_loss",
    "length",
    "listed",
    "number",
    "parse_widths",
    "read_pieces",
    "read_size",
    "understand",
]
