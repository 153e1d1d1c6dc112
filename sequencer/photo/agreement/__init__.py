"""Room: several photos brought to one standard."""
