"""The terminal face: parse, call the road, print."""
