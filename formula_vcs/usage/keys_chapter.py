"""The chapter of the keys: what a file of each kind may hold, as its reader says when it is asked."""

from __future__ import annotations

from typing import Final

from formula_vcs.setup.shipped import FOLDER
from formula_vcs.toml.file_schema import FILES, MUST, keys

CHAPTER: Final = FOLDER / "keys.md"
_HEAD: Final = """\
# The keys of every file

What a file of each kind may hold, as the readers have it. `phase.A.charge.ID` is the key `ID` in the table
`[phase.A.charge]`; a name in capitals is one that you choose; `price[].cost` is `cost` in each `[[price]]`. What takes
a number or a text and has keys below it may be written as either. What must be there is said so: below a table, where
that table is there. A key that is not here is a finding, with the nearest one that is. `git formula schema` gives the
same to editors.
"""


def chapter() -> str:
    """Write the chapter."""
    parts = [_HEAD]
    for kind, (files, what) in FILES.items():
        parts += [f"## `{files}`: {what}", "", "| key | what it takes |", "|---|---|"]
        parts += [f"| `{key.path}` | {key.takes}{MUST if key.required else ''} |" for key in keys(kind)]
        parts.append("")
    return "\n".join(parts)
