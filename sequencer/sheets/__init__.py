"""Room: sheets."""
