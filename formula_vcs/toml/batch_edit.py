"""Fill in a batch file: one fact at a time, every comment and every other line left as it is."""

from __future__ import annotations

from typing import Any

from formula_vcs.model.facts import Facts, Path
from formula_vcs.toml.batch_file import place
from formula_vcs.toml.edit import EditRefused, add_pair, remove, set_value
from formula_vcs.toml.positions import positions
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse


def facts_in(text: str) -> Facts:
    """Read the facts of a batch file's text."""
    return facts_of("batches", parse(text.encode("utf-8")).data)


def fill_in(text: str, path: Path, value: Any) -> str:
    """Give the text with a fact written at a path, new or in place of another.

    :raises EditRefused: it cannot be written there.
    """
    spot = place(facts_in(text), path)
    known = positions(text)
    if known.value_span(spot) is not None:
        return set_value(text, spot, value)
    parent, key = spot[:-1], spot[-1]
    if not isinstance(key, str):
        raise EditRefused(f"'{'/'.join(path)}' is no place of this file")
    return add_pair(text, parent, key, value)


def take_out(text: str, path: Path) -> str:
    """Give the text without a fact; the same text where it does not stand there.

    :raises EditRefused: it cannot be taken out.
    """
    spot = place(facts_in(text), path)
    return remove(text, spot) if positions(text).value_span(spot) is not None else text
