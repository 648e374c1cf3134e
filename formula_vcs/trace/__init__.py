"""Why two batches differ: what is on record that differs between them, and what of it could explain their results."""
