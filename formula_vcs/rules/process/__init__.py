"""Rules about how a recipe is made."""
