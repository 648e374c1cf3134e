"""TOML read table by table, each text of a table once: the versions of a file share nearly all of theirs.

Reading TOML is most of the work on a long history.  What is not simple enough to be put together from its tables
(a text over several lines, a table stated out of order, any mistake) is left to be read as a whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

from formula_vcs.words.late_pattern import late_pattern

Load = Callable[[str], dict[str, Any]]
Table = dict[str, Any]

_HEADING: Final = late_pattern(
    r"\[(\[)?([A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*)\](?(1)\])[ \t]*(?:#[^\x00-\x08\x0a-\x1f\x7f]*)?\r?(?:\n|\Z)"
)


# A heading may stand behind blanks; whether such a line is one, or goes on with a list, only the reader can say.
_INDENTED: Final = late_pattern(r"^[ \t]+\[", re.MULTILINE)


class Pieces:
    """Remembers the tables that it has read."""

    def __init__(self, load: Load) -> None:
        """Take what reads the TOML of one table; whatever it raises makes the text one that is read as a whole."""
        self._load = load
        self._known: dict[str, Table] = {}

    def data(self, text: str) -> Table | None:
        """Give what the TOML reader gives for the whole text; None where the text has to be read as a whole.

        Values are shared among the texts, so nobody may change them.
        """
        if '"""' in text or "'''" in text or _INDENTED.search(text):
            return None  # a line inside may look like a heading, or a heading like a line inside
        *others, last = f"\n{text}".split("\n[")
        head, *parts = (*(f"{part}\n" for part in others), last)  # each with its own line ends
        whole = _Whole()
        try:
            whole.root.update(self._table(head))
            for part in parts:
                heading = _HEADING.match(f"[{part}")
                if heading is None or not whole.add(heading, self._table(part[heading.end() - 1 :])):
                    return None
        except ValueError:  # also where a heading stands in an open list, as the piece before it is then none
            return None
        return whole.root

    def _table(self, text: str) -> Table:
        known = self._known.get(text)
        if known is None:
            known = self._known[text] = self._load(text)
        return known


class _Whole:
    """A document put together from its tables."""

    def __init__(self) -> None:
        self.root: Table = {}
        # tables and lists that headings made: only there another heading may go on
        self._made: set[int] = {id(self.root)}

    def add(self, heading: re.Match[str], table: Table) -> bool:
        """Put a table in; False where it is not plain that it may stand there."""
        *way, last = heading[2].split(".")
        here: Any = self.root
        for name in way:
            if name not in here:
                here[name] = self._new({})
            here = here[name]
            if id(here) not in self._made:
                return False
            here = here[-1] if isinstance(here, list) else here
        if heading[1] is None:
            if last in here:
                return False
            here[last] = self._new(dict(table))
            return True
        if last not in here:
            here[last] = self._new([])
        if not isinstance(here[last], list) or id(here[last]) not in self._made:
            return False
        here[last].append(self._new(dict(table)))
        return True

    def _new(self, value: Any) -> Any:
        self._made.add(id(value))
        return value
