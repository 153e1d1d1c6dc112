"""Small questions by dynamic programming: layers of partial orders, walks that bound the rest."""
