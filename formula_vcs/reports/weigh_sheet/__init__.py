"""A weigh sheet."""
