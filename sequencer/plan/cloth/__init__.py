"""What the scraps hold and which strip is cut where; what is bought; border and binding."""

from sequencer.plan.cloth.box import Box
from sequencer.plan.cloth.edges import Wanted, cut_edges, may_hold, with_edges
from sequencer.plan.cloth.fabric import fabric_needs, without_sets
from sequencer.plan.cloth.finishing import Finishing, finish, pick_print, plan_borders
from sequencer.plan.cloth.framing import frame_print
from sequencer.plan.cloth.lacking import least_lacking, most_net, net_needed
from sequencer.plan.cloth.ledger import Handing, Ledger
from sequencer.plan.cloth.scraps import Scrap, cloth_area, scraps_of
from sequencer.plan.cloth.settle import Settling, settle
from sequencer.plan.cloth.tables import judge_again, set_tables

__all__ = [
    "Box",
    "Finishing",
    "Handing",
    "Ledger",
    "Scrap",
    "Settling",
    "Wanted",
    "cloth_area",
    "cut_edges",
    "fabric_needs",
    "finish",
    "frame_print",
    "judge_again",
    "least_lacking",
    "may_hold",
    "most_net",
    "net_needed",
    "pick_print",
    "plan_borders",
    "scraps_of",
    "set_tables",
    "settle",
    "with_edges",
    "without_sets",
]
