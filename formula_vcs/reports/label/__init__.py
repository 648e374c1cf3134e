"""The ingredient list."""
