"""What a version passed, how far a recipe has gone from it since, and the work that follows."""
