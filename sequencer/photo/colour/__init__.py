"""Room: the colour of the cloth itself."""
