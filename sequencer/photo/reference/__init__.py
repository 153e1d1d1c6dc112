"""Room: the thing of known colour."""
