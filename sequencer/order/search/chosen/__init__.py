"""So many of the prints: which ones, and their order."""
