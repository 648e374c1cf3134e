"""The versions of a recipe over commits: each commit at which it, or anything it rests on, changed in meaning.

Full history: a change that came in by a merge belongs to the side's commit, and the merge is a version only where it
holds a state that neither side had (it then combines both, or somebody edited in it).  A side that a merge threw away
has no part in the history.  Along first parents a merge is one version with all that it brought.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.git import commit_log, repository
from formula_vcs.git.commit_log import Commit, Touch
from formula_vcs.git.repository import SYMLINK
from formula_vcs.history.version_of_recipe import Builder, Version, changes_from, rests_of
from formula_vcs.model.facts import ALIKE, likeness
from formula_vcs.model.values import dataclass
from formula_vcs.toml.positions import collector_at_rest
from formula_vcs.workspace.past import PastFiles, inside, listed, trees
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, id_of, kind_of

# --- Where the file of a recipe lay at each commit: followed back through renames, on every side of a merge


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


# --- The versions of a recipe over commits: each commit at which it, or anything it rests on, changed in meaning


_MANY: Final = 100  # commits from which on the values that stay are so many that a collector is felt

__all__ = ["History", "Version", "VersionPath", "between", "changes_from", "former_ids", "versions", "whole_line"]


@dataclass(frozen=True)
class History:
    """The versions of one recipe, oldest first; ``tip`` is the state at the revision asked for.

    The tip is None where the recipe is not there, and "unread" where its file does not parse there.
    ``commit`` is that revision's id.  ``cut`` says that the clone is shallow and the history may go on beyond it.
    """

    recipe: str
    commit: str
    versions: tuple[Version, ...]
    tip: Version | None
    cut: bool = False


@dataclass(frozen=True)
class VersionPath:
    """The versions between two commits, oldest first.

    ``done`` are those on the way from ``base`` to the new commit.  ``undone`` are those that the old commit has and the
    new one has not: there are some only where the old commit is no ancestor of the new one, and ``base`` is then where
    the two parted (None where they share nothing here).
    """

    base: str | None
    done: tuple[Version, ...]
    undone: tuple[Version, ...] = ()
    cut: bool = False

    @property
    def straight(self) -> bool:
        """Say whether the way only goes forward."""
        return not self.undone


def versions(
    repo: repository.Repo, folder: str, recipe_id: str, revision: str = "HEAD", *, first_parent: bool = False
) -> History:
    """Give the versions of a recipe up to a revision.

    :raises UserError: unknown revision, or no recipe of that id in the history.
    """
    tip = repository.resolve(repo, revision)
    line, folders = whole_line(repo, tip, folder, first_parent=first_parent)
    with PastFiles(repo) as past, collector_at_rest(len(line) > _MANY):
        path = _path(repo, tip, folders, recipe_id, line)
        if path is None:
            msg = f"no recipe is called '{recipe_id}' in the history of {revision}"
            raise UserError(f"{msg}; {repository.SHALLOW}" if repository.is_shallow(repo) else msg)
        nodes = _nodes(repo, past, line, folders, path, first_parent=first_parent)
    last = nodes.get(line[-1].oid) if line else None
    order = {commit.oid: number for number, commit in enumerate(line)}
    found = sorted(_followed(last), key=lambda version: order[version.commit.oid])
    listed_ones = tuple(version for version in found if version.status != "same")
    cut = any(version.status == "cut" for version in listed_ones)
    here = last if last is not None and last.formula is not None and last.status != "removed" else None
    return History(recipe_id, tip, listed_ones, here, cut)


def between(repo: repository.Repo, folder: str, recipe_id: str, old: str, new: str) -> VersionPath:
    """Give the versions of a recipe on the way from one commit to another.

    :raises UserError: an unknown commit, or no recipe of that id.
    """
    start, end = repository.resolve(repo, old), repository.resolve(repo, new)
    there = versions(repo, folder, recipe_id, end)
    fresh = commit_log.reachable(repo, end, start)
    done = tuple(version for version in there.versions if version.commit.oid in fresh)
    cut = any(version.status == "cut" for version in done)
    if commit_log.is_ancestor(repo, start, end):
        return VersionPath(start, done, (), cut)
    try:
        base: str | None = repository.merge_base(repo, start, end)
    except UserError:
        base = None
    here = versions(repo, folder, recipe_id, start)
    lost = commit_log.reachable(repo, start, end)
    undone = tuple(version for version in here.versions if version.commit.oid in lost)
    return VersionPath(base, done, undone, cut or repository.is_shallow(repo))


def former_ids(repo: repository.Repo, folder: str, recipe_id: str, revision: str = "HEAD") -> frozenset[str]:
    """Name what a recipe was called before it was renamed; nothing where the history has no such recipe.

    :raises UserError: unknown revision.
    """
    tip = repository.resolve(repo, revision)
    line, folders = whole_line(repo, tip, folder)
    with PastFiles(repo) as past:
        path = _path(repo, tip, folders, recipe_id, line)
        if path is None or not line:
            return frozenset()
        paths = paths_at(line, line[-1].oid, path, lambda gone, came: _alike(past, gone, came))
    return frozenset(map(id_of, paths.values())) - {recipe_id}


def whole_line(
    repo: repository.Repo, tip: str, folder: str, *, first_parent: bool = False
) -> tuple[list[Commit], tuple[str, ...]]:
    """Give the commits that touch a workspace, oldest first, and the folders that it lay in, the newest first.

    :raises UserError: git failed.
    """
    folders: tuple[str, ...] = (folder,)
    while True:
        line = list(commit_log.commits(repo, tip, folders, first_parent=first_parent))
        earlier = _earlier(repo, line, folders)
        if earlier is None:
            return line, folders
        folders = (*folders, earlier)


def _earlier(repo: repository.Repo, line: Sequence[Commit], folders: tuple[str, ...]) -> str | None:
    """Give a folder that the workspace was moved from, where a commit brought it whole from somewhere else."""
    marks = {_at(folder, WORKSPACE_FILE): folder for folder in folders}
    for commit in line:
        for touch in commit.touches:
            if touch.path in marks and touch.status in "AR":
                old = _came_from(repo, commit, touch, marks[touch.path])
                if old is not None and old.rpartition("/")[2] == WORKSPACE_FILE:
                    found = old.rpartition("/")[0]
                    if found not in folders:
                        return found
    return None


def _came_from(repo: repository.Repo, commit: Commit, touch: Touch, folder: str) -> str | None:
    """Give the path that a file had before: git names it only where the listing holds the old folder too."""
    if touch.status == "R":
        return touch.old_path
    begins = commit.cut or not (commit.parents or folder)  # nothing was before it
    return None if begins else commit_log.came_from(repo, commit.oid, touch.path)


def _at(folder: str, path: str) -> str:
    return f"{folder}/{path}" if folder else path


def _path(repo: repository.Repo, tip: str, folders: tuple[str, ...], recipe: str, line: Sequence[Commit]) -> str | None:
    """Find the file of a recipe at the tip, or the last one of its id where it is gone."""
    tree = listed(repo, tip, folders[:1])

    def wanted(path: str) -> bool:
        return id_of(path) == recipe and path.endswith(".toml") and kind_of(inside(path, folders[0])) == "recipe"

    under = f"{folders[0]}/" if folders[0] else ""
    with PastFiles(repo) as past:
        path = past.snapshot(tree, folders[0]).ids("recipe").get(recipe)
    if path is not None:
        return _at(folders[0], path)
    for commit in reversed(line):
        for touch in commit.touches:
            if touch.path.startswith(under) and wanted(touch.path):
                return touch.path
    return None


def _followed(tip: Version | None) -> Iterator[Version]:
    """Give the versions that a tip was made from: a side that a merge threw away is none of them."""
    waiting = [] if tip is None else [tip]
    seen: set[int] = set()
    while waiting:
        version = waiting.pop()
        if id(version) not in seen:
            seen.add(id(version))
            yield version
            waiting.extend(version.parents)


def _nodes(
    repo: repository.Repo,
    past: PastFiles,
    line: Sequence[Commit],
    folders: tuple[str, ...],
    path: str,
    *,
    first_parent: bool,
) -> dict[str, Version | None]:
    """Give the version that holds at each commit; None before the recipe came."""
    if not line:
        return {}

    def alike(gone: Touch, came: Touch) -> bool:
        return _alike(past, gone, came)

    paths = paths_at(line, line[-1].oid, path, alike)
    _fetch(past, line, paths, folders)
    builder = Builder(past, folders)
    for commit, tree in trees(repo, line, folders):
        here = paths.get(commit.oid)
        if here is not None:
            parents = commit.parents[:1] if first_parent else commit.parents
            builder.add(commit, tree, here, parents)
    return builder.at


def _fetch(past: PastFiles, line: Sequence[Commit], paths: Mapping[str, str], folders: tuple[str, ...]) -> None:
    """Have the contents read ahead that the versions will be made of: the recipe's, then what these name."""
    names = frozenset(paths.values())
    touches = [touch for commit in line for touch in commit.touches if touch.status != "D" and touch.mode != SYMLINK]
    own = {touch.new: touch.path for touch in touches if touch.path in names}
    past.fetch(own)
    used: set[tuple[str, str]] = set()
    for oid, path in own.items():
        recipe = past.recipe(inside(path, _folder_of(path, folders)), oid)
        if recipe is not None:
            used |= rests_of(recipe)
    past.fetch(
        touch.new
        for touch in touches
        if touch.path not in names and touch.path.endswith(".toml")
        for folder in folders
        if (kind_of(inside(touch.path, folder)), id_of(touch.path)) in used
    )


def _folder_of(path: str, folders: tuple[str, ...]) -> str:
    around = [folder for folder in folders if not folder or path.startswith(f"{folder}/")]
    return max(around, key=len, default="")


def _alike(past: PastFiles, gone: Touch, came: Touch) -> bool:
    """Say whether most facts of a recipe that came are those of one that went, whatever the layout."""
    was, now = (past.read("recipe.toml", oid).facts for oid in (gone.old, came.new))
    return likeness(was, now) >= ALIKE
