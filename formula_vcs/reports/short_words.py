"""The shortest words for a change and for a count, for whoever does not compare two workspaces."""

from __future__ import annotations

from formula_vcs.diff.change import Change


def brief(change: Change) -> str:
    """Name a change shortly, to stand beside its share of a figure."""
    lead, rest = "", change.text
    if change.kind == "premix":
        lead, _, rest = rest.partition(": ")
        lead += ", "
    head = rest.partition(": ")[0]
    after = {"moved": ", moved", "removed": ", removed", "added": ", added"}.get(change.kind, "")
    return f"{lead}{head}{after}"


def counted(count: int, name: str) -> str:
    """Write "1 recipe" or "3 recipes"."""
    return f"{count} {name}" if count == 1 else f"{count} {name}s"
