"""The process of a recipe, vessel by vessel."""
