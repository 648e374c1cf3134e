"""Write a file that is new, as files of a workspace are laid out: what is on top, tables, rows of prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from formula_vcs.toml import layout
from formula_vcs.toml.edit import key_text, spelled


def new_text(data: Mapping[str, Any], comments: Sequence[str] = ()) -> str:
    """Give the text of a file with the data, and comments at its top, one line each."""
    parts = ["".join(f"# {words}\n" for words in comments)]
    plain = {key: value for key, value in data.items() if not _apart(value)}
    width = max((len(key_text(key)) for key in plain), default=0)
    parts.append("".join(f"{key_text(key).ljust(width)} = {spelled(value)}\n" for key, value in plain.items()))
    for key, value in data.items():
        if isinstance(value, dict):
            parts.append(_tables(key, value))
        elif _apart(value):
            parts += [layout.table((key,), row, row=True) for row in value]
    return "\n".join(part for part in parts if part)


def _apart(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _tables(key: str, value: Mapping[str, Any]) -> str:
    if key == "phase":
        return "\n".join(layout.table((key, name), phase) for name, phase in value.items())
    return layout.table((key,), dict(value))
