"""Quantities with their units, read from text by pint's definitions."""
