"""Pages of the animals: what they are, where they live, what they are fed."""
