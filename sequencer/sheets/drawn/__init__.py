"""Drawings to scale, and the small ones that show a kind of step."""
