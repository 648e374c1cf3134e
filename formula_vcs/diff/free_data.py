"""Say what changed inside data that has no rule of its own: deepdiff finds it, we word it."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.diff.change_words import ARROW, plain
from formula_vcs.model.facts import Path, Unread

_MOST: Final = 12


def describe(path: Path, old: Any, new: Any) -> str:
    """Word a change of free data: a simple value as from-to, a table or list by what differs inside."""
    name = " ".join(path)
    before, after = (value.raw if isinstance(value, Unread) else value for value in (old, new))
    inner = inside(before, after)
    if inner:
        return f"{name}: " + "; ".join(inner)
    return f"{name}: {_short(before)} {ARROW} {_short(after)}"


def inside(old: Any, new: Any) -> list[str]:
    """List the differences inside two tables or lists; empty where one of them is a simple value."""
    if not isinstance(old, dict | list | tuple) or not isinstance(new, dict | list | tuple):
        return []
    from deepdiff import DeepDiff

    found = DeepDiff(old, new, view="tree", ignore_numeric_type_changes=True, verbose_level=2)
    lines: list[str] = []
    for kind in sorted(found):
        for item in found[kind]:
            spot = ".".join(str(part) for part in item.path(output_format="list")) or "all of it"
            lines.append(f"{spot} {_short(item.t1)} {ARROW} {_short(item.t2)}")
    lines.sort()
    if len(lines) > _MOST:
        lines[_MOST:] = [f"and {len(lines) - _MOST} more"]
    return lines


def _short(value: Any) -> str:
    text = "nothing" if value is None or type(value).__name__ == "NotPresent" else plain(value)
    return "nothing" if text == "not present" else text if len(text) <= 80 else text[:77] + "..."
