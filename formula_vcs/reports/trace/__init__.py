"""Why two batches differ."""
