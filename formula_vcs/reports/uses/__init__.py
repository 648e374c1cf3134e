"""Where an ingredient goes."""
