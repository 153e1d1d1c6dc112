"""Room: how the neighbours of a sequence meet, in figures and in sentences."""

from sequencer.contrasts.figures import contrast, looks_lighter_by

__all__ = ["contrast", "looks_lighter_by"]
