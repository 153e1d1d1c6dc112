"""Room: order."""
