"""The workspace as an import would leave it: files as data, changed in memory, and what has to be written."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping
from typing import Any, Final

from formula_vcs.model.values import dataclass
from formula_vcs.sheets.new_file import new_text
from formula_vcs.toml import syntax
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.text_edits import same, with_data
from formula_vcs.words.quoting import slug
from formula_vcs.workspace.snapshot import Refused, Snapshot

MOST_NEW: Final = 5_000
"""New files of one import.  Our choice."""


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """One file that would be written: its text before (None where it is new) and after."""

    path: str
    old: str | None
    new: str


class Draft:
    """A snapshot with changes on top.  Data are plain TOML data; nothing is written."""

    def __init__(self, snapshot: Snapshot) -> None:
        """Begin with the files as they lie."""
        self.snapshot = snapshot
        self._texts: dict[str, str | None] = {}
        self._before: dict[str, dict[str, Any]] = {}
        self._now: dict[str, dict[str, Any]] = {}
        self._added = 0
        self._ids: dict[str, dict[str, str]] = {}
        self._numbers: dict[tuple[str, str], int] = {}
        self._comments: dict[str, list[str]] = {}

    def ids(self, kind: str) -> Mapping[str, str]:
        """Give ids and paths of a kind, those of new files among them."""
        if kind not in self._ids:
            self._ids[kind] = dict(self.snapshot.ids(kind))
        return self._ids[kind]

    def data(self, path: str) -> dict[str, Any] | None:
        """Give the data of a file, to be read and changed; None where it does not parse."""
        if path not in self._now:
            raw = self.snapshot.source.read(path)
            parsed = None if isinstance(raw, Refused) else syntax.parse(raw)
            if parsed is None or parsed.errors:
                return None
            self._texts[path] = parsed.text
            self._before[path] = parsed.data
            self._now[path] = copy.deepcopy(parsed.data)
        return self._now[path]

    def ingredients(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Go through the ingredients that can be read, with their data."""
        for name, path in self.ids("ingredients").items():
            data = self.data(path)
            if data is not None:
                yield name, data

    def add(self, kind: str, name: str, data: dict[str, Any]) -> str:
        """Add a new file with the first free id near a name; gives the id.

        :raises CannotWrite: it would be one too many.
        """
        self._added += 1
        if self._added > MOST_NEW:
            raise CannotWrite(f"this would make over {MOST_NEW:,} new files; that is no list of a lab")
        stem = slug(name)
        taken = self.ids(kind)
        number = self._numbers.get((kind, stem), 1)
        found = stem
        while found in taken:
            number += 1
            found = f"{stem}-{number}"
        self._numbers[kind, stem] = number
        path = f"ingredients/{found}.toml" if kind == "ingredients" else f"{found}.toml"
        self._ids[kind][found] = path
        self._texts[path] = None
        self._before[path] = {}
        self._now[path] = data
        return found

    def comment(self, path: str, words: str) -> None:
        """Let a comment stand in a file: what a sheet says and nobody can read as a value."""
        self._comments.setdefault(path, []).append(words)

    def changes(self) -> list[PlannedFile]:
        """Give the files to be written, in the order of their paths.

        :raises CannotWrite: a file cannot be changed without touching something else.
        """
        found = []
        for path in sorted(self._now):
            old, now = self._texts[path], self._now[path]
            comments = self._comments.get(path, [])
            if old is None:
                found.append(PlannedFile(path, None, new_text(now, comments)))
                continue
            try:
                new = old if same(self._before[path], now) else with_data(old, now)
            except CannotWrite as error:
                raise CannotWrite(f"{path}: {error}") from error
            new = _with_comments(new, comments)
            if new != old:
                found.append(PlannedFile(path, old, new))
        return found


def _with_comments(text: str, comments: list[str]) -> str:
    lines = [f"# {words}\n" for words in comments if f"# {words}" not in text.splitlines()]
    return text if not lines else "".join(lines) + text
