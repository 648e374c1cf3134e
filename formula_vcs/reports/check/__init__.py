"""The findings of a check."""
