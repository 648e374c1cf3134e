"""Rules about what the substances of a product do in it: its pH, what preserves it, what does not go together."""
