"""Room: how large things on the table are."""
