"""Write tables that stand nowhere yet, as the files of a workspace are laid out: = under =, texts in quotes."""

from __future__ import annotations

from typing import Any

from formula_vcs.toml.edit import key_text, spelled


def heading(path: tuple[str, ...], *, row: bool = False) -> str:
    """Write the heading of a table, or of a row of an array of tables."""
    name = ".".join(map(key_text, path))
    return f"[[{name}]]" if row else f"[{name}]"


def table(path: tuple[str, ...], data: dict[str, Any], *, row: bool = False) -> str:
    """Write a table with its heading; phases and their charges get headings of their own."""
    inner = {key: value for key, value in data.items() if not row and _headed((*path, key), value)}
    pairs = {key: value for key, value in data.items() if key not in inner}
    width = max((len(key_text(key)) for key in pairs), default=0)
    lines = [f"{key_text(key).ljust(width)} = {spelled(value)}\n" for key, value in pairs.items()]
    parts = [f"{heading(path, row=row)}\n{''.join(lines)}"] if pairs or not inner else []
    return "\n".join([*parts, *(table((*path, key), value) for key, value in inner.items())])


def _headed(path: tuple[str, ...], value: Any) -> bool:
    return isinstance(value, dict) and (len(path) == 1 or (path[0] == "phase" and len(path) <= 3))
