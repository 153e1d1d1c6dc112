"""Border, binding, backing and batting as lines of the cutting list."""

from __future__ import annotations

from sequencer.sheets.job import Job


def finishing_rows(job: Job) -> list[tuple[str, str]]:
    """(what for, what to cut), in words."""
    return []
