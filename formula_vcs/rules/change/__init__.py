"""Rules about a change itself, said where two versions are compared."""
