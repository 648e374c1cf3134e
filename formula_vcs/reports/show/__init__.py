"""One recipe."""
