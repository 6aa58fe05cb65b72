"""Taking in an arrival: what it brings, where it could go and why, what it would change, and the page of it."""
