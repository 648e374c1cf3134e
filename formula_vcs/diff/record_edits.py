"""Which commits edited a record after it was closed: one look through the history of a folder."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Final

from formula_vcs.diff.change_words import ARROW, plain
from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.git.blobs import BlobReader, Oversized
from formula_vcs.git.commit_log import NOTHING, Commit, Touch, commits
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.toml import syntax
from formula_vcs.toml.readers import facts_of

if TYPE_CHECKING:
    from formula_vcs.rules.rule import Edit

# --- Which commits edited a record after it was closed: one look through the history of a folder


_CLOSED: Final = b"closed"
_KEY: Final = ("closed",)
Step = tuple[Commit, Touch]


class RecordEdits:
    """The edits of the records of one folder ("batches") of a workspace, up to a commit."""

    def __init__(self, repo: repository.Repo, folder: str, blobs: BlobReader, tip: str) -> None:
        """Take the repository, the folder relative to its top, an open reader of blobs, and the commit to look from."""
        self._repo = repo
        self._folder = folder
        self._blobs = blobs
        self._tip = tip
        self._chains: dict[str, list[Step]] | None = None
        self._facts: dict[str, Facts] = {}

    def of(self, path: str, facts: Callable[[], Facts], *, oid: str) -> Iterator[Edit]:
        """Give the edits of a file; ``path`` is relative to the top of the repository.

        ``facts`` gives what it says now and ``oid`` is the name of that content: what no commit holds yet is an edit
        too.
        """
        from formula_vcs.rules.rule import (
            Edit,  # with it come the claims and the law, which a diff alone never asks for
        )

        last = ""
        seen: set[str] = set()
        for commit, touch in self._chain(path):
            last = touch.new
            before = self._closed(touch.old)
            side = self._of_a_side(commit, touch, seen)
            seen.add(touch.new)
            if before is not None and not side and self._read(touch.new) != self._read(touch.old):
                yield Edit(commit.oid, before, _named(commit))
        if last and last != oid:
            before = self._closed(last)
            if before is not None and self._read(last) != facts():
                yield Edit("", before, "what lies here differs from the last commit")

    def _of_a_side(self, commit: Commit, touch: Touch, seen: set[str]) -> bool:
        """Say whether a merge only brings a closed record that an earlier commit wrote: that one edited it."""
        return len(commit.parents) > 1 and touch.new in seen and self._closed(touch.new) is not None

    def gone(self, here: frozenset[str]) -> Iterator[tuple[str, Edit]]:
        """Give the files that were closed and are not ``here`` (paths as git has them), with what took them away."""
        from formula_vcs.rules.rule import Edit

        for path, steps in self._all().items():
            if path in here or not path.endswith(".toml"):
                continue
            commit, touch = steps[-1]
            deleted = set(touch.new) <= set(NOTHING)
            before = self._closed(touch.old if deleted else touch.new)
            if before is not None:
                what = _named(commit) if deleted else "it is not here any more, and no commit says so"
                yield path, Edit(commit.oid if deleted else "", before, what)

    def _chain(self, path: str) -> list[Step]:
        return self._all().get(path, [])

    def _all(self) -> dict[str, list[Step]]:
        if self._chains is None:
            self._chains = {}
            for commit in commits(self._repo, self._tip, (self._folder,)):
                for touch in commit.touches:
                    earlier = self._chains.pop(touch.old_path, []) if touch.status == "R" else []
                    self._chains.setdefault(touch.path, []).extend([*earlier, (commit, touch)])
        return self._chains

    def _closed(self, oid: str) -> datetime.date | None:
        """Give the day that a content was closed on; most contents are open and need no reading as TOML."""
        if set(oid) <= set(NOTHING) or _CLOSED not in self._bytes(oid):
            return None
        day = self._read(oid).get(_KEY)
        return day if isinstance(day, datetime.date) else None

    def _bytes(self, oid: str) -> bytes:
        try:
            found = self._blobs.read(oid, syntax.LIMIT)
        except UserError:  # a partial clone that does not hold it
            return b""
        return b"" if isinstance(found, Oversized) else found

    def _read(self, oid: str) -> Facts:
        if oid not in self._facts:
            parsed = None if set(oid) <= set(NOTHING) else syntax.parse(self._bytes(oid))
            self._facts[oid] = {} if parsed is None or parsed.errors else facts_of("batches", parsed.data)
        return self._facts[oid]


def _named(commit: Commit) -> str:
    return f"commit {commit.oid[:12]} of {commit.day}, {commit.author}: {commit.subject}"


# --- Say what changed inside data that has no rule of its own: deepdiff finds it, we word it


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
