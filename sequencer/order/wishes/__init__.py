"""What was asked for, the question it makes, and what contradicts what."""
