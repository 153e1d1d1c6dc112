"""Room: photo."""
