"""What the scraps hold and who gets which piece; what is bought; border and binding."""

from sequencer.plan.cloth.fabric import Scraps, cloth_area, fabric_needs
from sequencer.plan.cloth.finishing import Finishing, finish, pick_print
from sequencer.plan.cloth.ledger import Handing, Ledger
from sequencer.plan.cloth.setlength import best_set_length
from sequencer.plan.cloth.settle import Effort, length_that_fits, settle
from sequencer.plan.cloth.stock import scraps_of, ways_to_cut

__all__ = [
    "Effort",
    "Finishing",
    "Handing",
    "Ledger",
    "Scraps",
    "best_set_length",
    "cloth_area",
    "fabric_needs",
    "finish",
    "length_that_fits",
    "pick_print",
    "scraps_of",
    "settle",
    "ways_to_cut",
]
