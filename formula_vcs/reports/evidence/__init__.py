"""What the recorded evidence of a recipe still covers."""
