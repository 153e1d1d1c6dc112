"""The best order of a question in numbers, proved."""
