"""What the pages tell, read off the plan: columns through the steps, addresses of strips."""
