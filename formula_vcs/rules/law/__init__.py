"""Rules that speak for law, standards and claims."""
