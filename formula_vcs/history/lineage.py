"""Where the file of a recipe lay at each commit: followed back through renames, on every side of a merge."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

from formula_vcs.git.commit_log import Commit, Touch

Alike = Callable[[Touch, Touch], bool]
_MOST: Final = 40  # files that went with one commit, and that are tried for the one that came


def paths_at(line: Sequence[Commit], tip: str, path: str, alike: Alike) -> Mapping[str, str]:
    """Give ``{commit: path}`` for all commits of a line (oldest first), going back from a tip and the path there.

    A commit before the file came keeps the last name known: whether the file is there its tree says.  ``alike`` says
    whether a file that a commit removed and one that it added, and that git does not call a rename, are one recipe.
    """
    names = _names(line, path)
    present = _present(line, names)
    found = {tip: path}
    for commit in reversed(line):
        here = found.get(commit.oid)
        if here is None:
            continue
        before = _before(commit, here, alike)
        for number, parent in enumerate(commit.parents):
            if number == 0:
                name = before
            else:
                there = present.get(parent, frozenset())
                name = next((name for name in (here, before, *names) if name in there), before)
            found.setdefault(parent, name)
    return found


def _before(commit: Commit, path: str, alike: Alike) -> str:
    """Give the path of a file before a commit."""
    for touch in commit.touches:
        if touch.path == path and touch.status != "D":
            if touch.status == "R":
                return touch.old_path
            if touch.status == "A":
                return next((gone.path for gone in _gone(commit, path) if alike(gone, touch)), path)
    return path


def _gone(commit: Commit, path: str) -> Iterable[Touch]:
    """Give the files that went with a commit and may be the one that came, the same name in another folder first."""
    gone = [touch for touch in commit.touches if touch.status == "D" and touch.path.endswith(".toml")]
    name = path.rpartition("/")[2]
    return sorted(gone, key=lambda touch: touch.path.rpartition("/")[2] != name)[:_MOST]


def _names(line: Sequence[Commit], path: str) -> dict[str, None]:
    """Name every path that the file may have had, the newest first."""
    names = {path: None}
    for commit in reversed(line):
        for touch in commit.touches:
            if touch.path in names and touch.status == "R":
                names.setdefault(touch.old_path)
            elif touch.path in names and touch.status == "A":
                names.update((gone.path, None) for gone in _gone(commit, touch.path))
    return names


def _present(line: Sequence[Commit], names: Iterable[str]) -> dict[str, frozenset[str]]:
    """Say which of the names are there at each commit."""
    wanted = frozenset(names)
    found: dict[str, frozenset[str]] = {}
    for commit in line:
        there = found.get(commit.parents[0], frozenset()) if commit.parents else frozenset()
        came = {touch.path for touch in commit.touches if touch.status != "D"} & wanted
        went = {touch.old_path for touch in commit.touches if touch.status in "DR"} & wanted
        found[commit.oid] = (there - went) | came if came - there or went else there
    return found
