"""What changed between two versions."""
