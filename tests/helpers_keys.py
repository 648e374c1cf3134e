"""Ask the readers which keys a file of each kind may have, by what they refuse, and write the chapter of the manual.

``python tests/helpers_keys.py`` writes ``formula_vcs/manual/keys.md`` anew. The readers are strict, so they are asked
as a chemist asks them: an unknown key is answered with the known ones, a wrong value with what is wanted there. Nothing
is said twice, and no table of a reader can change without the chapter.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, Final, NamedTuple

from formula_vcs.model.facts import Unread
from formula_vcs.toml.readers import READERS

CHAPTER: Final = Path(__file__).resolve().parents[1] / "formula_vcs" / "manual" / "keys.md"
ROW: Final = "[]"
MUST: Final = "; must be there"
STRANGE: Final = "0000000000"  # a key that no table has, and that is like none
_WRONG: Final = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)  # a value that no key takes
_KNOWN: Final = re.compile(rf"unknown key '{STRANGE}'.*?; known here: (.*)", re.DOTALL)
_WANTED: Final = re.compile(r"; (.+?),? is wanted here", re.DOTALL)
_WRITE: Final = re.compile(r"; (?:write )?(.+)", re.DOTALL)
_FILES: Final = {
    "workspace": ("workspace.toml", "the defaults of all recipes"),
    "recipe": ("*.toml", "a recipe, or a premix"),
    "ingredients": ("ingredients/*.toml", "one raw material as bought"),
    "equipment": ("equipment/*.toml", "a mixer, a vessel, a balance"),
    "packaging": ("packaging/*.toml", "what one pack is made of"),
    "batches": ("batches/*.toml", "one making of a recipe"),
    "lots": ("lots/*.toml", "one delivery of a raw material, one batch of a premix"),
    "evidence": ("evidence/*.toml", "what was proved of which version"),
    "rules": ("rules/*.toml", "rules of the house"),
    "approvals": ("approvals/trust.toml", "who may sign as what"),
}
# what a key of a row asks for beside it, before it says what it takes itself
_AROUND: Final[dict[str, dict[str, Any]]] = {"pair": {"together": "vessel", "other": {"substances": ["Aqua"]}}}
_NAMED: Final = {
    "phase": "A", "charge": "ID", "substances": "NAME", "allergens": "NAME", "spec": "NAME", "item": "NAME",
    "claim": "WORDS", "person": "ID", "kind": "NAME",
}  # fmt: skip

_HEAD: Final = """\
# The keys of every file

What a file of each kind may hold, as the readers have it. `phase.A.charge.ID` is the key `ID` in the table
`[phase.A.charge]`; a name in capitals is one that you choose; `price[].cost` is `cost` in each `[[price]]`. What takes
a number or a text and has keys below it may be written as either. What must be there is said so: below a table, where
that table is there. A key that is not here is a finding, with the nearest one that is.
"""

Place = Callable[[Any], dict[str, Any]]


class Key(NamedTuple):
    """One key: its place in the file as it is written, what it takes, and whether it must be there."""

    path: str
    takes: str
    required: bool


def _refused(kind: str, data: dict[str, Any]) -> dict[tuple[str, ...], Unread]:
    return {path: value for path, value in READERS[kind](data).items() if isinstance(value, Unread)}


def _own(kind: str, place: Place, key: str, value: Any) -> list[str]:
    """Give what is said about the value of a key; where its table takes the blame, what is said at all."""
    found = {path: no.message for path, no in _refused(kind, place(value)).items() if no.rule != "missing-value"}
    return [message for path, message in found.items() if key in path] or list(found.values())


def _known(kind: str, place: Place) -> tuple[str, ...]:
    """Name the keys of a table; nothing where it is none, or where its keys are the writer's own."""
    found = (_KNOWN.search(no.message) for no in _refused(kind, place({STRANGE: _WRONG})).values())
    return next((tuple(match[1].split(", ")) for match in found if match), ())


def _required(kind: str, place: Place, depth: int) -> set[str]:
    refused = _refused(kind, place({}))
    return {path[-1] for path, no in refused.items() if no.rule == "missing-value" and len(path) == depth + 1}


def _takes(kind: str, place: Place, path: tuple[str, ...]) -> str:
    """Say what a place takes, in the words of the refusal of what it does not take."""
    key = path[-1]
    around = _AROUND.get(path[0], {}) if path[1:2] == (ROW,) and len(path) == 3 else {}

    def inside(value: Any) -> dict[str, Any]:
        return place({**around, key: value})

    messages = _own(kind, inside, key, _WRONG) or _own(kind, inside, key, True)
    found = (match[1] for pattern in (_WANTED, _WRITE) for text in messages if (match := pattern.search(text)))
    wanted = next(found, "any value")
    if wanted == "a bare number" and any(
        "more than the whole" in text for text in _own(kind, inside, key, Decimal(101))
    ):
        return "a bare number, %, 0 to 100"
    return f"an id: {wanted.removesuffix(' make one')}" if wanted.endswith(" make one") else wanted


def _in_table(place: Place, key: str) -> Place:
    return lambda value: place({key: value})


def _in_row(place: Place, key: str) -> Place:
    return lambda value: place({key: [value]})


def _is_each(kind: str, place: Place) -> bool:
    """Say whether a table has keys of the writer's own."""
    told = [path for path in _refused(kind, place({STRANGE: _WRONG})) if STRANGE in path]
    return bool(told) and not _known(kind, place)


def keys_below(kind: str, place: Place, path: tuple[str, ...] = ()) -> Iterator[Key]:
    """List the keys of a table, each followed by those below it."""
    required = _required(kind, place, len(path))
    for key in _known(kind, place):
        yield from _key(kind, place, (*path, key), key in required)


def _key(kind: str, place: Place, path: tuple[str, ...], required: bool) -> Iterator[Key]:
    key = path[-1]
    inside, row = _in_table(place, key), _in_row(place, key)
    takes = _takes(kind, place, path)
    yield Key(_written(path), takes, required)
    if _known(kind, row):
        yield from keys_below(kind, row, (*path, ROW))
    elif _known(kind, inside):
        yield from keys_below(kind, inside, path)
    elif _is_each(kind, inside):
        yield from _key(kind, inside, (*path, _NAMED.get(key, "NAME")), False)


def _written(path: tuple[str, ...]) -> str:
    return ".".join(path).replace(f".{ROW}", ROW)


def keys(kind: str) -> list[Key]:
    """List all keys of a kind of file."""
    return list(keys_below(kind, lambda value: value))


def pattern_of(path: str) -> re.Pattern[str]:
    """Give the pattern of the paths that a key of the chapter stands for: names in capitals are anybody's."""
    parts = (".+" if part in _NAMED.values() or part == "NAME" else re.escape(part) for part in path.split("."))
    return re.compile(r"\.".join(parts))


def chapter() -> str:
    """Write the chapter."""
    parts = [_HEAD]
    for kind, (files, what) in _FILES.items():
        parts += [f"## `{files}`: {what}", "", "| key | what it takes |", "|---|---|"]
        parts += [f"| `{key.path}` | {key.takes}{MUST if key.required else ''} |" for key in keys(kind)]
        parts.append("")
    return "\n".join(parts)


if __name__ == "__main__":
    CHAPTER.write_text(chapter(), "utf-8")
