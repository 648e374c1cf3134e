"""The page of a rule on a terminal: its words folded to 80 columns, its samples as they are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from formula_vcs.reports.terminal import WIDTH, columns, folded

_ITEM: Final = re.compile(r"[-*] |\d+\. ")
_LEAD: Final = re.compile(r" *")


def rule_page(text: str) -> str:
    """Fold a page: lines that follow each other are one paragraph; what stands further in is a sample."""
    lines: list[str] = []
    words: list[str] = []
    for line in text.splitlines():
        if words and (not line.strip() or line.startswith(" ") or _ITEM.match(line)):
            lines += _paragraph(words)
            words = []
        if line.strip() and not line.startswith(" "):
            words.append(line)
        else:
            lines += _sample(line)
    return "\n".join([*lines, *_paragraph(words)])


def _paragraph(words: list[str]) -> list[str]:
    return folded(" ".join(words), WIDTH, WIDTH) if words else []


def _sample(line: str) -> Iterator[str]:
    """Give a sample as it is; one that is too wide goes on further in."""
    if columns(line) <= WIDTH:
        yield line.rstrip()
        return
    found = _LEAD.match(line)
    lead = found[0] if found else ""
    first, *rest = folded(line, WIDTH - len(lead), WIDTH - len(lead) - 4)
    yield f"{lead}{first}"
    yield from (f"{lead}    {part}" for part in rest)
