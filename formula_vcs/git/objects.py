"""Read many commits with their trees and files through one git process."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.errors import GitFailed
from formula_vcs.git.blobs import BlobReader, ObjectFound, Oversized
from formula_vcs.git.running import text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from formula_vcs.git.running import Repo

_TREE: Final = "40000"
_DEEPEST: Final = 64
_SMALL: Final = 1 << 16
_MOST: Final = 4096


class Entry(NamedTuple):
    """One file in a tree or in the index.

    ``path`` is relative to the top of the repository, ``mode`` is git's (100644, 100755, 120000, 160000).
    ``unmerged`` marks a path with a conflict: ``oid`` is then our side's, or theirs where ours deleted it.
    """

    path: str
    oid: str
    mode: str
    unmerged: bool = False


class Objects:
    """Commits by their ids, and what is in them.  ``blobs`` reads the files; close it at the end."""

    def __init__(self, repo: Repo) -> None:
        """Take the repository; no process starts yet."""
        self.blobs = _Kept(repo)
        self._trees: dict[str, list[tuple[str, str, str]]] = {}

    def commit(self, name: str) -> str:
        """Give the full id of a commit named by its id, in full or short; empty where there is none.

        :raises UserError: several objects begin like that.
        """
        found = self.blobs.object(name, "commit")
        return "" if found is None else found.oid

    def entries(self, commit: str, under: str) -> Iterator[Entry]:
        """List the files of a commit (its full id) below a folder, or all."""
        tree = self._object(commit, "commit").data.split(b"\n", 1)[0].split()[1].decode("ascii")
        for part in under.split("/") if under else ():
            inside = {name: oid for mode, name, oid in self._tree(tree) if mode == _TREE}
            if part not in inside:
                return
            tree = inside[part]
        yield from self._below(tree, f"{under}/" if under else "")

    def _below(self, tree: str, prefix: str) -> Iterator[Entry]:
        stack = [(tree, prefix, 0)]
        while stack:
            oid, lead, depth = stack.pop()
            for mode, name, inner in self._tree(oid):
                if mode != _TREE:
                    yield Entry(f"{lead}{name}", inner, mode)
                elif depth < _DEEPEST:
                    stack.append((inner, f"{lead}{name}/", depth + 1))

    def _tree(self, oid: str) -> list[tuple[str, str, str]]:
        """Give mode, name and id of what is in a tree; most folders are the same in most commits."""
        if oid not in self._trees:
            self._trees[oid] = list(_rows(self._object(oid, "tree").data, len(oid) // 2))
        return self._trees[oid]

    def _object(self, oid: str, kind: str) -> ObjectFound:
        found = self.blobs.object(oid)
        if found is None or found.kind != kind:
            raise GitFailed(f"object {oid} is missing from this repository (git fsck says more)")
        return found


class _Kept(BlobReader):
    """A reader that keeps small blobs: most files of a commit are those of the commit before."""

    def __init__(self, repo: Repo) -> None:
        super().__init__(repo)
        self._known: dict[tuple[str, int], bytes | Oversized] = {}

    def read(self, oid: str, limit: int) -> bytes | Oversized:
        found = self._known.get((oid, limit))
        if found is None:
            found = super().read(oid, limit)
            if isinstance(found, Oversized) or (len(found) <= _SMALL and len(self._known) < _MOST):
                self._known[oid, limit] = found
        return found


def _rows(data: bytes, width: int) -> Iterator[tuple[str, str, str]]:
    """Read a tree: mode, a blank, name, a NUL, and the id in ``width`` bytes."""
    position = 0
    while position < len(data):
        blank = data.index(b" ", position)
        end = data.index(b"\0", blank)
        oid = data[end + 1 : end + 1 + width].hex()
        yield data[position:blank].decode("ascii"), text(data[blank + 1 : end]), oid
        position = end + 1 + width
