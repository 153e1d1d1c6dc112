"""What someone who knows the trade would say about a sequence."""
