"""The files of a workspace at each commit of its history, kept up to date by what each commit touched.

No tree is listed: the paths and blob ids of a commit are those of its first parent with its own touches made.  Each
content that is asked for is read and parsed once, and the same value then stands in every formula that rests on it.
"""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator, Mapping
from typing import Final, NamedTuple, Self

from formula_vcs.git.commit_log import Commit, Touch
from formula_vcs.git.repository import SYMLINK, BlobReader, Entry, Oversized, Repo, tree_entries
from formula_vcs.model.recipe import Recipe
from formula_vcs.toml import syntax
from formula_vcs.workspace.content_store import ContentStore
from formula_vcs.workspace.snapshot import (
    FOLDERS,
    WORKSPACE_FILE,
    FileIndex,
    Read,
    Recorded,
    Refused,
    Snapshot,
    counting,
    id_of,
    kind_of,
    read_as,
)


class Tree:
    """The files that count at one commit: ``{path from the top of the repository: entry}``."""

    __slots__ = ("entries", "index", "links")

    def __init__(self, entries: dict[str, Entry], links: int = 0, index: Indexed | None = None) -> None:
        """Take the files, how many of them are links, and the ids there are where they are known already."""
        self.entries = entries
        self.links = links
        self.index = index

    def copy(self) -> Tree:
        """Give a tree of its own to another branch."""
        return Tree(dict(self.entries), self.links, self.index)

    def make(self, touches: Iterable[Touch]) -> bool:
        """Make the touches of a commit; False where they do not fit to what is here."""
        for touch in touches:
            if not (counts(touch.path, touch.mode) or touch.old_path in self.entries):
                continue
            was = self.entries.get(touch.old_path)
            if touch.status == "A" and was is not None and was.oid != touch.new:
                return False
            if touch.status in "MDRT" and was is not None and was.oid != touch.old:
                return False
            self._make(touch)
        return True

    def _make(self, touch: Touch) -> None:
        if touch.status != "M":
            self.index = None
        if touch.status in "DRT":
            went = self.entries.pop(touch.old_path, None)
            self.links -= went is not None and went.mode == SYMLINK
        if touch.status != "D" and counts(touch.path, touch.mode):
            self.entries[touch.path] = Entry(touch.path, touch.new, touch.mode)
            self.links += touch.mode == SYMLINK and touch.status != "M"


def counts(path: str, mode: str) -> bool:
    """Say whether a path can be a file of a workspace."""
    return path.endswith(".toml") or (mode == SYMLINK and posixpath.basename(path) in FOLDERS)


def trees(repo: Repo, line: Iterable[Commit], folders: tuple[str, ...]) -> Iterator[tuple[Commit, Tree]]:
    """Give each commit with its files.  A tree is good until the next one is asked for."""
    line = list(line)
    heirs: dict[str, int] = {}
    for commit in line:
        for first in commit.parents[:1]:
            heirs[first] = heirs.get(first, 0) + 1
    kept: dict[str, Tree] = {}
    for commit in line:
        tree = Tree({})
        for first in commit.parents[:1]:
            heirs[first] -= 1
            under = kept.get(first)
            if under is not None:
                tree = under.copy() if heirs[first] else kept.pop(first)
        if not tree.make(commit.touches):
            tree = listed(repo, commit.oid, folders)
        if heirs.get(commit.oid):
            kept[commit.oid] = tree
        yield commit, tree


def listed(repo: Repo, commit: str, folders: tuple[str, ...]) -> Tree:
    """List the tree of a commit: where a merge brought the folder from a history without it."""
    found = [entry for folder in folders for entry in tree_entries(repo, commit, folder)]
    entries = {entry.path: entry for entry in found if counts(entry.path, entry.mode)}
    return Tree(entries, sum(entry.mode == SYMLINK for entry in entries.values()))


class Indexed(NamedTuple):
    """The files of the workspace in a folder, by kind and id."""

    folder: str
    files: FileIndex


_GONE: Final = Refused("vanished while it was being read")
_TOO_BIG: Final = Refused("is too big", "too-big")


class PastFiles:
    """Reads each content of a history once.  Use it as a context manager: one git process reads them all."""

    def __init__(self, repo: Repo) -> None:
        """Take the repository."""
        self.store = ContentStore(lasting=True)
        self._blobs = BlobReader(repo)
        self._ahead: dict[str, bytes | Oversized] = {}

    def __enter__(self) -> Self:
        """Give the reader itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the git process."""
        self._blobs.close()

    def fetch(self, oids: Iterable[str]) -> None:
        """Have git read contents ahead that will be asked for: one by one it would be waited for each time."""
        self._ahead.update(self._blobs.read_many(dict.fromkeys(oids), syntax.LIMIT))

    def bytes_of(self, oid: str) -> bytes | Refused:
        """Give the bytes of a content."""
        content = self._ahead.pop(oid) if oid in self._ahead else self._blobs.read(oid, syntax.LIMIT)
        return _TOO_BIG if isinstance(content, Oversized) else content

    def read(self, path: str, oid: str) -> Read:
        """Read a content as a file of the workspace that has this path."""
        known = self.store.known(kind_of(path), oid)
        if known is not None:
            return read_as(path, known)
        data = self.bytes_of(oid)
        return read_as(path, data if isinstance(data, Refused) else self.store.read(kind_of(path), oid, data))

    def recipe(self, path: str, oid: str) -> Recipe | None:
        """Read a content as the recipe that a path of the workspace holds; None where it does not parse."""
        read = self.read(path, oid)
        return Recipe(id_of(path), read.facts, path) if read.whole else None

    def snapshot(self, tree: Tree, folder: str) -> Snapshot:
        """Give the workspace in a folder of a tree; good for as long as the tree."""
        source = _InTree(self, tree, folder, self._blobs)
        if tree.index is None or tree.index.folder != folder:
            tree.index = Indexed(folder, FileIndex(counting(source.listing())))
        return Snapshot(source, self.store, tree.index.files)


class _InTree:
    """The files in a folder of a tree."""

    label = ""

    def __init__(self, past: PastFiles, tree: Tree, folder: str, blobs: BlobReader) -> None:
        self._past = past
        self._tree = tree
        self._folder = folder
        self._blobs = blobs

    def folder(self) -> str:
        return self._folder

    def close(self) -> None:
        """Leave the git process to who opened it."""

    def _entry(self, path: str) -> Entry | None:
        return self._tree.entries.get(f"{self._folder}/{path}" if self._folder else path)

    def _recorded(self) -> Recorded:
        under = f"{self._folder}/" if self._folder else ""
        inner = {path[len(under) :]: entry for path, entry in self._tree.entries.items() if path.startswith(under)}
        return Recorded(inner, self._blobs, self._folder, "")

    def listing(self) -> Mapping[str, str]:
        return self._recorded().listing()

    def unlisted(self) -> Mapping[str, str]:
        return self._recorded().unlisted()

    def name(self, path: str) -> str:
        entry = self._entry(path)
        return "" if entry is None or entry.mode == SYMLINK else entry.oid

    def read(self, path: str) -> bytes | Refused:
        entry = self._entry(path)
        if entry is None:
            return _GONE
        return self._recorded().read(path) if entry.mode == SYMLINK else self._past.bytes_of(entry.oid)


def place_of(path: str, folders: Iterable[str], tree: Tree) -> str:
    """Give the workspace's folder that a file lies in at a commit: the innermost with a workspace.toml there."""
    around = [folder for folder in folders if not folder or path.startswith(f"{folder}/")]
    around.sort(key=len, reverse=True)
    marked = [folder for folder in around if (f"{folder}/" if folder else "") + WORKSPACE_FILE in tree.entries]
    return (marked or around or [""])[0]


def inside(path: str, folder: str) -> str:
    """Give a path of the repository as one of the workspace."""
    return path[len(folder) + 1 :] if folder else path


def about(touch: Touch, folder: str) -> set[tuple[str, str]]:
    """Name what a touch is about, as ``{(kind, id)}``; nothing where it lies outside the folder."""
    under = f"{folder}/" if folder else ""
    found = {path[len(under) :] for path in (touch.path, touch.old_path) if path.startswith(under)}
    return {(kind_of(path), id_of(path)) for path in found if path.endswith(".toml")}
