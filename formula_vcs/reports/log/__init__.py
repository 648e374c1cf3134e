"""The versions of a recipe over time."""
