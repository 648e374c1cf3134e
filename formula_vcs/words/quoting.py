"""Somebody else's text inside a message."""

from __future__ import annotations

LONGEST = 40


def quoted(text: str, longest: int = LONGEST) -> str:
    """Quote a text: what cannot be printed is shown escaped, and what is longer than ``longest`` is cut."""
    shown = "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text[:longest])
    return f"'{shown}...'" if len(text) > longest else f"'{shown}'"
