"""Rings: every print once, by an integer program with lazy cuts, warm-started."""
