"""What the law and the public inventories say of substances and products, kept as tables that are looked up by key."""
