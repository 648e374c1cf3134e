"""What a text must hold for a pattern to fit: so that most patterns of a table need not be compiled at all.

For `compile_tables`, which writes it beside each pattern.
"""

from __future__ import annotations

from collections.abc import Iterable
from re import _constants as kinds  # type: ignore[attr-defined]
from re import _parser as reading  # type: ignore[attr-defined]
from typing import Any

_MOST = 40  # texts; a longer list is no quicker than the pattern


def needed_text(pattern: str) -> list[str]:
    """Give texts of which each fitting text holds one; none where nothing can be said of it."""
    found = _needed(reading.parse(pattern))
    return sorted(found) if len(found) <= _MOST else []


def _needed(parts: Iterable[tuple[object, Any]]) -> set[str]:
    """Choose among the parts, all of which must be there, the one that says most."""
    choices: list[set[str]] = []
    run = ""
    for kind, what in (*parts, (None, None)):
        if kind is kinds.LITERAL:
            run += chr(what)
            continue
        if run:
            choices.append({run})
        run = ""
        if kind is kinds.BRANCH:
            each = [_needed(branch) for branch in what[1]]
            choices += [set().union(*each)] if all(each) else []
        elif kind is kinds.SUBPATTERN:
            choices.append(_needed(what[3]))
        elif kind is kinds.MAX_REPEAT and what[0] > 0:
            choices.append(_needed(what[2]))
    return max(filter(None, choices), key=lambda texts: (min(map(len, texts)), -len(texts)), default=set())
