"""Strips laid into one scrap: ways to cut it, the most it can give, joins of strips too short."""
