"""Ground: letters of every script, for pictures and sheets alike.

:func:`written` makes a text ready for the typeface: one line, from left to right. What
:func:`font_file` gives then draws it. :func:`missing` names the letters that no face has.
"""

from sequencer.lettering.shaping import UNITS
from sequencer.lettering.spelling import missing, plain, written
from sequencer.lettering.typeface import (
    FILES,
    advance,
    covered,
    drawable,
    font_file,
    stands_for,
    vera,
)

__all__ = [
    "FILES", "UNITS", "advance", "covered", "drawable", "font_file", "missing", "plain",
    "stands_for", "vera", "written",
]  # fmt: skip
