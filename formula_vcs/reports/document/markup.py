"""HTML by type: a plain ``str`` is text, and is escaped wherever it is put; only `Markup` is HTML already.

A function that wants HTML takes `Markup`, so that handing it a ``str`` is an error of types.  `element` and `joined`
make one of what they escape; whoever calls `Markup` by name says that the text in it is his own (`tests/test_house.py`
lists who does).
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from typing import Final

from formula_vcs.words.escape import terminal

_VOID: Final = ("meta", "br", "img")


class Markup(str):
    """HTML that is escaped already.  What Python makes of one (``+``, a slice, an f-string) is text again."""

    __slots__ = ()


NOTHING: Final = Markup("")
NEW_LINE: Final = Markup("\n")


def escaped(text: str) -> Markup:
    """Make text harmless in HTML, in an element and in an attribute alike: what is invisible is shown by its code."""
    return text if isinstance(text, Markup) else Markup(html.escape(terminal(text), quote=True))


def joined(parts: Iterable[str], between: str = "") -> Markup:
    """Put texts and HTML one behind the other, the texts escaped."""
    return Markup(escaped(between).join(map(escaped, parts)))


def element(name: str, *content: str, css: str = "", **attributes: str | int | bool) -> Markup:
    """Make an element; texts in it and in its attributes are escaped.

    ``aria_label`` becomes ``aria-label``; an attribute that is True stands without a value, and False leaves it out.
    """
    named = {**({"class": css} if css else {}), **attributes}
    said = "".join(_attribute(key.rstrip("_").replace("_", "-"), value) for key, value in named.items())
    inner = joined(content)
    return Markup(f"<{name}{said}>" if name in _VOID and not inner else f"<{name}{said}>{inner}</{name}>")


def _attribute(name: str, value: str | int | bool) -> str:
    if value is False:
        return ""
    return f" {name}" if value is True else f' {name}="{html.escape(terminal(str(value)), quote=True)}"'
