"""An opened piece: the folder as a page shows and changes it, each by its revision."""

from sequencer.opened.child import FULL
from sequencer.opened.jobs import Job, Reading, code_of
from sequencer.opened.long import Long, TooManyError, sweep_incoming
from sequencer.opened.state import NEW, Opened
from sequencer.opened.trying import Move

__all__ = ["FULL", "NEW", "Job", "Long", "Move", "Opened", "Reading", "TooManyError", "code_of",
           "sweep_incoming"]
