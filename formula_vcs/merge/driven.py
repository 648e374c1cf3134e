"""One file merged as git asks for it: among the other files of its workspace as ours has them, and judged there."""

from __future__ import annotations

import datetime
import os
from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import Final

from formula_vcs.diff.match import Grade
from formula_vcs.git import repository
from formula_vcs.git.running import shown
from formula_vcs.merge.markers import Style
from formula_vcs.merge.merge_file import merge_texts
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.merge.verdict import Bench, MergeStop, verdict
from formula_vcs.model.ingredient import main_substance
from formula_vcs.model.values import dataclass, field
from formula_vcs.toml.stop_marker import with_stop
from formula_vcs.toml.syntax import parse
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.content_store import ContentStore
from formula_vcs.workspace.snapshot import (
    WORKSPACE_FILE,
    Committed,
    Overlay,
    Snapshot,
    Source,
    WorkTree,
    find_workspace,
    kind_of,
)

_LONGEST: Final = 300
_COMMIT: Final = late_pattern(r"[0-9a-f]{40}|[0-9a-f]{64}")


@dataclass(frozen=True)
class Workbench:
    """The workspace around a file: ``path`` is the file's in it."""

    source: Source
    path: str
    day: datetime.date
    repo: repository.Repo | None = None
    store: ContentStore = field(default_factory=ContentStore, compare=False, repr=False)

    @classmethod
    def around(cls, path: str, day: datetime.date) -> Workbench | None:
        """Find the workspace of a path that git names from the top of the work tree, where it runs its drivers.

        The files count as they lie here; without a work tree, as HEAD has them.  None where the file is in none.
        """
        top = Path.cwd()
        root = find_workspace((top / path).parent)
        if root is not None and root.is_relative_to(top):
            folder = root.relative_to(top).as_posix()
            source: Source = WorkTree(root, "" if folder == "." else folder)
            return cls._in(source, path, day, None)
        repo = repository.open_repo(top)
        if not repository.has_commits(repo):
            return None
        head = repository.resolve(repo, "HEAD")
        names = {entry.path for entry in repository.tree_entries(repo, head)}
        parents = [parent.as_posix() for parent in Path(path).parents]
        found = next((p for p in parents if (WORKSPACE_FILE if p == "." else f"{p}/{WORKSPACE_FILE}") in names), None)
        if found is None:
            return None
        return cls._in(Committed(repo, head, "" if found == "." else found, "HEAD"), path, day, repo)

    @classmethod
    def _in(cls, source: Source, path: str, day: datetime.date, repo: repository.Repo | None) -> Workbench | None:
        folder = source.folder()
        inside = path[len(folder) + 1 :] if folder else path
        bench = cls(source, inside, day, repo)
        return bench if inside in bench.at(b"").listing else None  # a file of another tool

    def at(self, content: bytes | None) -> Snapshot:
        """The workspace with the file as some bytes."""
        return Snapshot(Overlay(self.source, {self.path: content}), self.store)

    @cached_property
    def _shelf(self) -> Snapshot:
        return Snapshot(self.source, self.store)

    def grades(self) -> ThreeWay[Grade]:
        """Say what makes two ingredients grades of one material, as far as this workspace knows them."""

        def grade(name: str) -> str | None:
            return main_substance(self._shelf.ingredient(name))

        return ThreeWay(grade, grade, grade)


@dataclass(frozen=True)
class Outcome:
    """A merged file, whether it is clean, and what to say of it."""

    data: bytes
    clean: bool
    words: tuple[str, ...] = ()


def merge(
    bench: Workbench,
    versions: Sequence[bytes],
    labels: Sequence[str] = ("ours", "base", "theirs"),
    size: int = 7,
    text: bytes | None = None,
    *,
    judged: bool = True,
) -> Outcome | None:
    """Merge a file and judge what came of it; ``versions`` and ``labels`` are ours, base, theirs.

    ``text`` is git's own text merge where that is clean: it is judged where there is no merge of meaning.  None where
    the text merge stands: a version does not parse, and the text merge breaks nothing that can be seen.
    """
    sides = ThreeWay(*versions)
    found = merge_texts(kind_of(bench.path), sides, bench.grades(), Style(size, *labels))
    if found is not None and found.clashes:
        return Outcome(_bytes(found.text), clean=False, words=tuple(f"conflict: {c.words}" for c in found.clashes))
    data = _bytes(found.text) if found is not None else text
    if data is None:
        return None
    stop = _judge(bench, sides, data) if judged else None
    if stop is None:
        return None if found is None else Outcome(data, clean=True)
    parsed = parse(data)
    words = _words(stop, labels)
    return Outcome(_bytes(with_stop(parsed.text, f"{words}. Mend it and take this line out.")), clean=False,
                   words=(f"merge stopped: {words}",))  # fmt: skip


def _judge(bench: Workbench, sides: ThreeWay[bytes], data: bytes) -> MergeStop | None:
    if data in (sides.ours, sides.theirs) or parse(data).errors:
        return None
    # where the base is empty, the file was added on both sides
    versions: ThreeWay[bytes | None] = ThreeWay(sides.ours, sides.base or None, sides.theirs)
    return verdict(Bench(bench.at, bench.path, bench.day, bench.repo or _repo()), versions, data)


def _repo() -> repository.Repo | None:
    from formula_vcs.errors import UserError

    try:
        return repository.open_repo(Path.cwd())
    except UserError:
        return None


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogateescape")


def _words(stop: MergeStop, labels: Sequence[str]) -> str:
    names = _name("ours", labels[0]), _name("theirs", labels[2])
    edits = (f"{name}: {'; '.join(edits) or 'nothing alone'}" for name, edits in
             zip(names, (stop.ours, stop.theirs), strict=True))  # fmt: skip
    return shown(". ".join((stop.finding.message, *(_short(edit) for edit in edits))))


def _name(side: str, label: str) -> str:
    """Name a side with its branch, where git tells: a label, or what `git merge` leaves in the environment."""
    if label == side == "theirs":
        heads = {value for name, value in os.environ.items() if name.startswith("GITHEAD_")}
        label = heads.pop() if len(heads) == 1 else side
    if _COMMIT.fullmatch(label):
        label = repository.short_id(label)
    return side if label in (side, "HEAD") else f"{side} ({label})"


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."
