"""An opened piece: the folder as a page shows and changes it, each by its revision."""

from sequencer.opened.state import NEW, Opened

__all__ = ["NEW", "Opened"]
