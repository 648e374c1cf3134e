"""What preserves a recipe."""
