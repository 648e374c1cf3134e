"""The files of a workspace at each commit of its history, kept up to date by what each commit touched.

No tree is listed: the paths and blob ids of a commit are those of its first parent with its own touches made.  Each
content that is asked for is read and parsed once, and the same value then stands in every formula that rests on it.
"""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple, Self, TypeVar

from formula_vcs.git.commit_log import Commit, Touch
from formula_vcs.git.repository import SYMLINK, BlobReader, Entry, Repo, TooBig, tree_entries
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.formula import Formula, close
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.workspace import Shelf, Workspace
from formula_vcs.toml import syntax
from formula_vcs.workspace.snapshot import (
    FOLDERS,
    WORKSPACE_FILE,
    Read,
    Recorded,
    Refused,
    Snapshot,
    id_of,
    kind_of,
    read_content,
)

T = TypeVar("T")


class Tree:
    """The files that count at one commit: ``{path from the top of the repository: entry}``."""

    __slots__ = ("entries", "links", "roster")

    def __init__(self, entries: dict[str, Entry], links: int = 0, roster: Roster | None = None) -> None:
        """Take the files, how many of them are links, and the ids there are where they are known already."""
        self.entries = entries
        self.links = links
        self.roster = roster

    def copy(self) -> Tree:
        """Give a tree of its own to another branch."""
        return Tree(dict(self.entries), self.links, self.roster)

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
            self.roster = None
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


class Roster(NamedTuple):
    """The ids of a workspace with their paths in it; the same until a file comes or goes."""

    folder: str
    snapshot: Snapshot

    def path(self, kind: str, name: str) -> str | None:
        """Give the path of the file that has an id."""
        return self.snapshot.ids(kind).get(name)

    @property
    def shelf(self) -> Shelf:
        """Give the ids that references may name."""
        return self.snapshot.shelf


_NO_READ: Final = Refused("vanished while it was being read")


class Library:
    """Reads each content once.  Use it as a context manager: one git process reads them all."""

    def __init__(self, repo: Repo) -> None:
        """Take the repository."""
        self._blobs = BlobReader(repo)
        self._pieces = syntax.pieces()
        self._read: dict[tuple[str, str], Any] = {}
        self._bytes: dict[str, bytes | TooBig] = {}

    def __enter__(self) -> Self:
        """Give the library itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the git process."""
        self._blobs.close()

    def fetch(self, oids: Iterable[str]) -> None:
        """Have git read contents ahead that will be asked for: one by one it would be waited for each time."""
        self._bytes.update(self._blobs.read_many(dict.fromkeys(oids), syntax.LIMIT))

    def blob(self, path: str, oid: str) -> Read:
        """Read a content as a file of the workspace that has this path."""
        content = self._bytes.pop(oid) if oid in self._bytes else self._blobs.read(oid, syntax.LIMIT)
        refused = Refused("is too big", "too-big")
        return read_content(path, refused if isinstance(content, TooBig) else content, self._pieces)

    def recipe(self, path: str, oid: str) -> Recipe | None:
        """Read a content as the recipe that a path of the workspace holds; None where it does not parse."""
        known: Recipe | None = self.known(path, oid)
        if known is None:
            read = self.blob(path, oid)
            known = self.keep(path, oid, Recipe(id_of(path), read.facts, path)) if read.whole else None
        return known

    def moment(self, tree: Tree, folder: str) -> Moment:
        """Give the workspace in a folder of a tree."""
        if tree.roster is None or tree.roster.folder != folder:
            tree.roster = Roster(folder, Snapshot(self._recorded(tree, folder)))
        return Moment(self, tree, folder, tree.roster)

    def _recorded(self, tree: Tree, folder: str) -> Recorded:
        under = f"{folder}/" if folder else ""
        inside = {path[len(under) :]: entry for path, entry in tree.entries.items() if path.startswith(under)}
        return Recorded(inside, self._blobs, folder, "")

    def file(self, tree: Tree, folder: str, path: str) -> tuple[str, Read]:
        """Read a file of the workspace, with the name of its content (none behind a link)."""
        entry = tree.entries.get(f"{folder}/{path}" if folder else path)
        if entry is None:
            return "", read_content(path, _NO_READ)
        if entry.mode == SYMLINK:
            return "", read_content(path, self._recorded(tree, folder).read(path))
        return entry.oid, self.blob(path, entry.oid)

    def known(self, path: str, oid: str) -> Any:
        """Give the value that was made of a content, or None."""
        return self._read.get((path, oid)) if oid else None

    def keep(self, path: str, oid: str, value: T) -> T:
        """Keep the value that was made of a content."""
        if oid:
            self._read[path, oid] = value
        return value


class Moment:
    """One workspace at one commit."""

    def __init__(self, library: Library, tree: Tree, folder: str, roster: Roster) -> None:
        """Take what reads, the files, the folder, and the ids."""
        self._library = library
        self._tree = tree
        self._folder = folder
        self._roster = roster

    def formula(self, path: str, name: str | None = None) -> Formula | None:
        """Gather the recipe in a file with what it rests on; None where the file does not parse."""
        recipe = self._recipe(path)
        if recipe is None:
            return None
        if name is not None and name != recipe.id:
            recipe = Recipe(name, recipe.facts, path)
        return close(
            recipe, self._ingredient, self._premix, self._workspace(), self._roster.shelf, equipment=self._equipment
        )

    def path_of(self, recipe: str) -> str | None:
        """Give the path of a recipe's file in the workspace."""
        return self._roster.path("recipe", recipe)

    def _oid(self, path: str) -> str:
        entry = self._tree.entries.get(f"{self._folder}/{path}" if self._folder else path)
        return "" if entry is None or entry.mode == SYMLINK else entry.oid

    def _recipe(self, path: str) -> Recipe | None:
        oid = self._oid(path)
        if oid:
            return self._library.recipe(path, oid)
        read = self._library.file(self._tree, self._folder, path)[1]
        return Recipe(id_of(path), read.facts, path) if read.whole else None

    def _premix(self, name: str) -> Recipe | None:
        path = self._roster.path("recipe", name)
        return None if path is None else self._recipe(path)

    def _ingredient(self, name: str) -> Ingredient | None:
        path = self._roster.path("ingredients", name)
        if path is None:
            return None
        known: Ingredient | None = self._library.known(path, self._oid(path))
        if known is not None:
            return known
        oid, read = self._library.file(self._tree, self._folder, path)
        return self._library.keep(path, oid, Ingredient(name, read.facts, path, readable=read.whole))

    def _equipment(self, name: str) -> Equipment | None:
        path = self._roster.path("equipment", name)
        if path is None:
            return None
        known: Equipment | None = self._library.known(path, self._oid(path))
        if known is not None:
            return known
        oid, read = self._library.file(self._tree, self._folder, path)
        return self._library.keep(path, oid, Equipment(name, read.facts, path, readable=read.whole))

    def _workspace(self) -> Workspace:
        rules: Mapping[str, str] = self._roster.snapshot.ids("rules")
        paths = (WORKSPACE_FILE, *rules.values())
        names = tuple(self._oid(path) or "-" for path in paths) if not self._tree.links else ("",)
        key = "\0".join((*paths, *names)) if "" not in names else ""
        known: Workspace | None = self._library.known("", key)
        if known is not None:
            return known
        facts = dict(self._library.file(self._tree, self._folder, WORKSPACE_FILE)[1].facts)
        for name, path in rules.items():
            read = self._library.file(self._tree, self._folder, path)[1]
            facts.update({("rules", name, *key): value for key, value in read.facts.items()})
        return self._library.keep("", key, Workspace(facts))


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
