"""Rules about batches, lots and evidence."""
