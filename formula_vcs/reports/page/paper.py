"""What stands on every printed page: names at its head, its number at its foot, by margin boxes of CSS.

A part of a page that has its own names gets the class ``pN``.  Chromium from 131 and WeasyPrint print margin boxes;
other browsers leave them out.
"""

from __future__ import annotations

import unicodedata
from typing import Final

from formula_vcs.words.escape import terminal

_MOST: Final = 64


def head_and_foot(number: int, left: str, right: str = "", mark: str = "", foot: str = "") -> str:
    """Give the style of the pages of part ``number``: plain texts for its head and foot; ``mark`` warns in the middle.

    Part 0 is all pages.

    A text is cut to one line.  No character of it can end the string or the style that it stands in.
    """
    boxes = {
        "top-left": f"content: {_string(left)}; font-weight: 700",
        "top-right": f"content: {_string(right)}",
        "bottom-left": f"content: {_string(foot)}",
        "bottom-right": 'content: "page " counter(page) " of " counter(pages); font-weight: 700',
    }
    if mark:
        boxes["bottom-center"] = (
            f"content: {_string(mark)}; font-weight: 700; font-size: 11pt; color: #a1241c; "
            "border: 1.5pt solid #a1241c; padding: 1mm 3mm; margin: 2mm 0"
        )
    drawn = " ".join(f"@{where} {{ font-size: 8.5pt; {what}; }}" for where, what in boxes.items())
    name = f"p{number} " if number else ""
    page = f"@page {name}{{ margin: 19mm 14mm 19mm; {drawn} }}\n"
    return f"{page}@media print {{ .p{number} {{ page: p{number}; }} }}\n" if number else page


def _string(text: str) -> str:
    r"""Write a string of CSS in which only letters, digits and blanks stand as themselves.

    >>> _string('a"b</style>')
    '"a\\22 b\\3c \\2f style\\3e "'
    """
    line = " ".join(terminal(unicodedata.normalize("NFC", text)).split())
    line = line if len(line) <= _MOST else f"{line[: _MOST - 1].rstrip()}\u2026"
    return '"' + "".join(c if c == " " or (c.isascii() and c.isalnum()) else f"\\{ord(c):x} " for c in line) + '"'
