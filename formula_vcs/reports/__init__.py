"""How findings, figures and changes are shown: one writer a format."""
