"""How numbers, units and names are written, and how somebody else's text is kept from taking effect."""
