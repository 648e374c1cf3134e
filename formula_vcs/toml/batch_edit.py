"""Write a batch's file, and fill it in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.spec_line import SpecLine
from formula_vcs.toml.batch_file import place
from formula_vcs.toml.edit import EditRefused, add_pair, remove, set_value, spelled
from formula_vcs.toml.positions import positions
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.words.late_pattern import late_pattern

# --- Fill in a batch file: one fact at a time, every comment and every other line left as it is


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


# --- Write a batch file: header, targets charge by charge, steps with their set points, and room for the rest


_BARE: Final = late_pattern(r"[A-Za-z0-9_-]+")
_HEAD: Final = (
    "# Targets are those of the weigh sheet. Fill in what was weighed and done: by hand, or by 'batch record'.\n"
)


def batch_text(
    header: Mapping[str, Any],
    charges: Mapping[str, Mapping[str, Mapping[str, Any]]],
    steps: Sequence[Mapping[str, Any]],
    results: Mapping[str, SpecLine],
) -> str:
    """Give the text of a batch file.

    ``charges`` are tables by phase and ingredient, ``steps`` tables with their id first, ``results`` the lines of the
    recipe's spec, for which comments are left.  Values are what TOML holds: text, numbers, dates, lists, tables.
    """
    parts = [_HEAD + _pairs(header)]
    for phase, inside in charges.items():
        parts.append(f"[phase.{_key(phase)}.charge]\n" + _pairs(inside))
    parts += [f"[[step]]\n{_pairs(step)}" for step in steps]
    if results:
        rooms = {name: "true" if line.words else '"..."' for name, line in results.items()}
        lines = "".join(f"# {_key(name)} = {room}\n" for name, room in rooms.items())
        parts.append("[result]\n" + lines)
    return "\n".join(parts)


def _pairs(table: Mapping[str, Any]) -> str:
    keys = {name: _key(name) for name in table}
    width = max(map(len, keys.values()), default=0)
    return "".join(f"{keys[name].ljust(width)} = {spelled(_plain(value))}\n" for name, value in table.items())


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _plain(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else spelled(name)
