"""What it costs to lay two prints side by side, as a graph and as arrays."""
