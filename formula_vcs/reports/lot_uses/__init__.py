"""Where a lot went."""
