"""What substances are and do in water: charge, acids and bases, what is neutral, what preserves; with their sources."""
