"""Two snapshots compared: what changed, what it does, what it breaks, what has to follow."""
