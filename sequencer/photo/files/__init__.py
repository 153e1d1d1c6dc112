"""Room: a photograph file and the views taken of it."""
