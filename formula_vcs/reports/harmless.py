"""Make somebody else's text harmless for where it lands."""

from __future__ import annotations

import os
import re
import unicodedata
from typing import TextIO

_MARKDOWN = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|~&@:])")
# directions and joiners that make a line read otherwise than it is
_INVISIBLE = frozenset(["Cc", "Cf", "Co", "Cs", "Zl", "Zp"])


def terminal(text: str) -> str:
    """Show control bytes and invisible or turning characters by their code."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_visible(character) for character in text)


def _visible(character: str) -> str:
    if unicodedata.category(character) not in _INVISIBLE:
        return character
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def markdown(text: str) -> str:
    """Escape what markdown, or the HTML inside it, would take for its own; one line stays one line."""
    return _MARKDOWN.sub(r"\\\1", terminal(text)).replace("\\<", "&lt;").replace("\\>", "&gt;").replace("\\&", "&amp;")


def coloured(out: TextIO) -> bool:
    """Say whether colour is wanted: a terminal, or git's pager in front of one, and no NO_COLOR."""
    if os.environ.get("NO_COLOR"):
        return False
    return out.isatty() or os.environ.get("GIT_PAGER_IN_USE") == "true"
