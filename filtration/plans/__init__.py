"""Filters that are planned: what a plan keeps, how it is typed and read, and a filter built by it."""
