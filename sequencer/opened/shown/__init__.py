"""What a page is shown of a piece: one `document` and its parts, and what is `said` of it."""
