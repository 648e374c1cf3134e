"""Versions of a recipe over commits: log, blame, and when a figure crossed a line."""
