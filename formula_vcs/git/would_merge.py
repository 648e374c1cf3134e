"""Merges that git would do.

`git merge-tree --write-tree` (git 2.38) merges without index and work tree; the objects that it writes go into a
folder of their own that is thrown away.
Files are merged as text, whatever driver this clone has: so a code host's merge button does it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple, Self

from formula_vcs.errors import UserError
from formula_vcs.git import repository, running

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from formula_vcs.git.running import Output, Repo


# --- git's own three-way merge of the text of one file


_ERROR = 128


class TextMerge(NamedTuple):
    """A text with or without conflict markers; ``data`` is None where git has no text merge, as of binary files."""

    data: bytes | None
    clean: bool


def merge_text(
    ours: bytes, base: bytes, theirs: bytes, *, size: int = 7, labels: Sequence[str] = ("ours", "base", "theirs")
) -> TextMerge:
    """Merge three texts as `git merge-file --diff3` does.

    :raises GitFailed: git does not run.
    """
    with running.passing_folder() as name:
        folder = Path(name)
        for file, data in zip(("ours", "base", "theirs"), (ours, base, theirs), strict=True):
            (folder / file).write_bytes(data)
        flags = [flag for label in labels for flag in ("-L", label)]
        args = ("merge-file", "-p", "-q", "--diff3", f"--marker-size={size}", *flags, "ours", "base", "theirs")
        output = running.call(args, folder, running.environment(inherit=False))
    if output.status >= _ERROR or output.status < 0:
        return TextMerge(None, clean=False)
    return TextMerge(output.out, clean=not output.status)


# --- What git would make of a merge of two commits, found without touching anything


# In place of a driver that this clone may have: what git does where it has none.
_BY_TEXT: Final = ("-c", "merge.formula.driver=git merge-file -q --marker-size=%L %A %O %B")
_CONFLICTS: Final = 1
_USAGE: Final = 129
_GONE: Final = "0" * 40


class Three(NamedTuple):
    """A file that both sides changed: its contents in ours, the base and theirs, None where it is not there."""

    ours: bytes | None
    base: bytes | None
    theirs: bytes | None


class WouldMerge:
    """The merge of two commits.  Use it as a context manager.

    ``files`` are the paths that are not as ours has them, with their contents (None: gone).  ``both`` are those whose
    content both sides changed.  ``conflicts`` are paths that git could not merge as text; ``other`` are conflicts that
    are not about lines, in git's words.
    """

    def __init__(self, repo: Repo, ours: str, theirs: str) -> None:
        """Take two revisions."""
        self._repo = repo
        self.ours = repository.resolve(repo, ours)
        self.theirs = repository.resolve(repo, theirs)
        self.base = repository.merge_base(repo, ours, theirs)
        self.files: dict[str, bytes | None] = {}
        self.both: dict[str, Three] = {}
        self.conflicts: set[str] = set()
        self.other: list[tuple[str, str]] = []
        self._objects = running.passing_folder()

    def __enter__(self) -> Self:
        """Merge.

        :raises UserError: this git is too old for it.
        """
        try:
            self._both()
            self._read(self._tree())
        except BaseException:
            self._objects.cleanup()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        """Throw away what was written."""
        self._objects.cleanup()

    def _git(self, *args: str) -> Output:
        env = running.environment(self._repo)
        known = env.get("GIT_OBJECT_DIRECTORY") or str(self._repo.common_dir / "objects")
        others = [known, *filter(None, [env.get("GIT_ALTERNATE_OBJECT_DIRECTORIES")])]
        env["GIT_OBJECT_DIRECTORY"] = self._objects.name
        env["GIT_ALTERNATE_OBJECT_DIRECTORIES"] = os.pathsep.join(others)
        env["GIT_DIR"] = str(self._repo.git_dir)
        return running.call((*_BY_TEXT, *args), running.place(self._repo), env)

    def _tree(self) -> bytes:
        """Have git merge.

        :raises UserError: this git cannot merge without a work tree.
        """
        done = self._git("merge-tree", "--write-tree", "-z", self.ours, self.theirs)
        if done.status in (0, _CONFLICTS):
            return done.out
        if done.status == _USAGE or "--write-tree" in done.err:
            raise UserError("this git is too old to say what a merge would make: git 2.38 or later is needed")
        raise running.failure(("merge-tree",), done)

    # What both sides changed

    def _both(self) -> None:
        here, there = self._changed(self.ours), self._changed(self.theirs)
        for path in here.keys() & there.keys():
            name, blob = here[path]
            other, others = there[path]
            if blob != others and _GONE not in (blob, others):
                base = self._blob(self.base, path)
                target = name if name != path else other
                self.both[target] = Three(self._blob(self.ours, name), base, self._blob(self.theirs, other))

    def _changed(self, side: str) -> dict[str, tuple[str, str]]:
        """Give the paths of the base whose content a side changed, or that it added, with the new name and blob."""
        out = self._out("diff-tree", "-r", "-z", "-M", "--raw", "--no-abbrev", "--no-ext-diff", self.base, side)
        parts = iter(out.split(b"\0"))
        found: dict[str, tuple[str, str]] = {}
        for part in parts:
            if not part:
                continue
            facts = part.decode("ascii").lstrip(":").split(" ")
            old = running.text(next(parts))
            new = running.text(next(parts)) if facts[4][0] in "RC" else old
            if facts[4][0] == "C":
                old = new
            found[old] = new, facts[3] if set(facts[3]) != {"0"} else _GONE
        return found

    def _out(self, *args: str) -> bytes:
        done = self._git(*args)
        if done.status:
            raise running.failure(args, done)
        return done.out

    def _blob(self, tree: str, path: str) -> bytes | None:
        done = self._git("cat-file", "blob", f"{tree}:{path}")
        return None if done.status else done.out

    # merge-tree

    def _read(self, out: bytes) -> None:
        parts = out.split(b"\0")
        tree = parts[0].decode("ascii")
        at = 1
        while at < len(parts) and parts[at]:
            at += 1
        self._messages([running.text(part) for part in parts[at + 1 :]])
        for path, blob in self._differing(tree):
            self.files[path] = None if blob == _GONE else self._out("cat-file", "blob", blob)

    def _differing(self, tree: str) -> Iterator[tuple[str, str]]:
        flags = ("-r", "-z", "--no-renames", "--raw", "--no-abbrev", "--no-ext-diff")
        parts = iter(self._out("diff-tree", *flags, f"{self.ours}^{{tree}}", tree).split(b"\0"))
        for part in parts:
            if part:
                mode, blob = part.decode("ascii").split(" ")[1:4:2]
                path = running.text(next(parts))
                if mode != repository.SUBMODULE:
                    yield path, _GONE if set(blob) == {"0"} else blob

    def _messages(self, parts: list[str]) -> None:
        """Read what git says: how many paths, the paths, the kind, the words."""
        at = 0
        while at < len(parts) and parts[at].isdigit():
            count = int(parts[at])
            paths = parts[at + 1 : at + 1 + count]
            kind, words = parts[at + 1 + count : at + 3 + count]
            if kind == "CONFLICT (contents)":
                self.conflicts.update(paths[:1])
            elif kind.startswith("CONFLICT"):
                self.other.append((paths[0] if paths else "", words.strip()))
            at += 3 + count


def would_merge(repo: Repo, ours: str, theirs: str) -> WouldMerge:
    """Prepare the merge of two revisions.

    :raises UserError: a revision is unknown, or the two have no commit in common.
    """
    return WouldMerge(repo, ours, theirs)
