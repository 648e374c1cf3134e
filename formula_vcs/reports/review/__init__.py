"""A review: what changed, what it does, what it breaks, what has to follow."""
