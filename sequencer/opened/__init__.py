"""An opened piece: the folder as a page shows and changes it, each by its revision."""

from sequencer.opened.state import NEW, Opened
from sequencer.opened.trying import Move

__all__ = ["NEW", "Move", "Opened"]
