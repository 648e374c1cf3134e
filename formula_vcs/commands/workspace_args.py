"""Where a command works: the workspace, the repository around it, and the moments that can be asked for."""

from __future__ import annotations

import datetime
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from formula_vcs.errors import UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.git import repository
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, field
from formula_vcs.workspace.content_store import ContentStore
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Committed, Snapshot, WorkTree, find_workspace, no_workspace

if TYPE_CHECKING:
    import argparse

HOSTS: Final = ("github", "gitlab", "sarif", "junit")
"""Formats that a code host reads: their paths start at the top of the repository, wherever the command runs."""
_BARE: Final = "this repository is bare: it has no files to read; name a revision (--rev HEAD)"


@dataclass(frozen=True)
class WorkspaceRef:
    """A workspace: its folder on disk, the repository around it (None outside git), its folder in there.

    All its moments read through one ``store``.
    """

    root: Path
    repo: repository.Repo | None
    folder: str
    store: ContentStore = field(default_factory=ContentStore, compare=False, repr=False)

    def work_tree(self) -> Snapshot:
        """Read the files as they lie on disk."""
        if self.repo is not None and self.repo.top is None:
            raise UserError(_BARE)
        return Snapshot(WorkTree(self.root, self.folder), self.store)

    def index(self) -> Snapshot:
        """Read what is staged for the next commit."""
        return Snapshot(Committed(self._repo(), None, self.folder, "index"), self.store)

    def revision(self, revision: str) -> Snapshot:
        """Read a commit."""
        return self.commit(repository.resolve(self._repo(), revision), revision)

    def commit(self, commit: str, label: str) -> Snapshot:
        """Read a commit that is known by its id."""
        return Snapshot(Committed(self._repo(), commit, self.folder, label), self.store)

    def _repo(self) -> repository.Repo:
        if self.repo is None:
            raise UserError(f"{self.root} is not in a git repository")
        return self.repo

    def in_workspace(self, path: str) -> str:
        """Turn a path that a person typed into one of the workspace; files may be gone, so nothing is looked up."""
        absolute = os.path.normpath(Path.cwd() / path)  # a file may be gone, or a link: nothing is resolved
        try:
            return Path(absolute).relative_to(self.root).as_posix()
        except ValueError:
            raise UserError(f"'{path}' lies outside the workspace {self.root}") from None

    def shown(self, path: str) -> str:
        """Write a workspace path as it is found from where the person stands."""
        return os.path.relpath(self.root / path)


def option(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the workspace."""
    parser.add_argument(
        "--workspace",
        metavar="DIR",
        help="the folder with workspace.toml, where it is not the one around or below",
    )


def places(
    chosen: str | None, revision: str | None = None, *, staged: bool = False, every: bool = False
) -> list[WorkspaceRef]:
    """Find the workspaces that a command is about: the one named, the one around, or all below.

    ``revision`` or ``staged`` look for them there as well, so that a commit can bring or remove one.  ``every`` finds
    those above and inside another too: what judges must not be switched off by a second workspace.toml.
    """
    start = Path(os.path.normpath(Path.cwd() / (chosen or "")))
    if chosen is not None and not start.is_dir():
        raise UserError(f"'{chosen}' is no folder")
    repo = _repository(start)
    if chosen is not None:
        return [_place(start, repo)]
    around = find_workspace(start)
    if (revision is not None or staged) and _elsewhere(start, repo):
        around = None  # GIT_DIR leads elsewhere: what is recorded there is not about the files around
    if around is not None and not every:
        return [_place(around, repo)]
    found = list(_found(around or start, repo, revision, staged=staged, every=every))
    if not found:
        if repo is not None and repo.top is None and not staged and revision is None:
            raise UserError(_BARE)
        raise no_workspace("this folder, above it or below it")
    return found


def _found(
    start: Path, repo: repository.Repo | None, revision: str | None, *, staged: bool, every: bool
) -> Iterator[WorkspaceRef]:
    """Give the workspaces in a folder and, with ``every``, above it: on disk, and at the moment that is asked for."""
    roots: list[Path] = []
    if repo is None or repo.top is not None:
        roots = [*(_above(start) if every else ()), *_below(start, inside=every)]
    if repo is not None and (staged or revision is not None):
        base, around = _base(repo, start), find_workspace(start) is not None and not _elsewhere(start, repo)
        recorded = [base / folder for folder in _recorded(repo, revision, inside=every)]
        roots += [root for root in recorded if not around or root.is_relative_to(start) or start.is_relative_to(root)]
    for root in dict.fromkeys(roots):
        if not _nested(root, start):
            yield _place(root, repo)
        elif not staged and revision is None:  # what the outer repository records says nothing about an inner one
            yield _place(root, _repository(root, inherit=False))


def _elsewhere(start: Path, repo: repository.Repo | None) -> bool:
    """Say whether a repository is not the one that a folder lies in."""
    return repo is not None and not start.resolve().is_relative_to(_base(repo, start).resolve())


def _above(start: Path) -> Iterator[Path]:
    """Give the workspaces that a folder lies in, the innermost first."""
    root = find_workspace(start)
    while root is not None:
        yield root
        root = None if (root / ".git").exists() or root.parent == root else find_workspace(root.parent)


def words_for(place: WorkspaceRef, places: Sequence[WorkspaceRef], words: Sequence[str]) -> list[str] | None:
    """Turn paths that a person typed into those of one workspace among several; None where all are of others.

    A file belongs to the innermost workspace that it lies in.

    :raises UserError: a path lies in none of them.
    """
    if len(places) == 1:
        return [place.in_workspace(word) for word in words]
    found = []
    for word in words:
        typed = Path(os.path.normpath(Path.cwd() / word))
        around = [one for one in places if typed.is_relative_to(one.root)]
        inside = [one for one in places if one.root.is_relative_to(typed)]
        if not around and not inside:
            raise UserError(f"'{word}' lies outside the workspace {place.root}")
        owner = max(around, key=lambda one: len(one.root.parts), default=None)
        if owner is place:
            found.append(place.in_workspace(word))
        elif place in inside:
            found.append(".")
    return found if found or not words else None


def place(chosen: str | None, revision: str | None = None) -> WorkspaceRef:
    """Find the one workspace that a command is about."""
    found = places(chosen, revision)
    if len(found) > 1:
        names = ", ".join(os.path.relpath(item.root) for item in found[:5])
        names += f" and {len(found) - 5} more" if len(found) > 5 else ""
        raise UserError(f"there are {len(found)} workspaces here ({names}); say which with --workspace")
    return found[0]


def _repository(start: Path, *, inherit: bool = True) -> repository.Repo | None:
    try:
        return repository.open_repo(start, inherit=inherit)
    except UserError as error:
        if "not a git repository" in str(error):
            return None
        raise


def _nested(root: Path, start: Path) -> bool:
    """Say whether a workspace below lies in a repository of its own: a submodule, or a clone in the clone."""
    between = [folder for folder in (root, *root.parents) if folder != start and folder.is_relative_to(start)]
    return any(os.path.lexists(folder / ".git") for folder in between)


def _base(repo: repository.Repo | None, start: Path) -> Path:
    if repo is None:
        return start
    return repo.top if repo.top is not None else repo.git_dir


def _place(root: Path, repo: repository.Repo | None) -> WorkspaceRef:
    if repo is None:
        return WorkspaceRef(root, None, "")
    base = _base(repo, root)
    try:
        folder = root.resolve().relative_to(base.resolve()).as_posix()
    except ValueError:
        return WorkspaceRef(root, None, "")
    return WorkspaceRef(root, repo, "" if folder == "." else folder)


def _below(start: Path, *, inside: bool) -> list[Path]:
    """Find the workspaces in a folder; with ``inside`` those in another one too."""
    found: list[Path] = []
    for folder, folders, names in os.walk(start):
        if WORKSPACE_FILE in names:
            found.append(Path(folder))
            if not inside:
                folders.clear()
        folders[:] = sorted(name for name in folders if not name.startswith(".") and name != "node_modules")
    return found


def _recorded(repo: repository.Repo, revision: str | None, *, inside: bool) -> list[str]:
    entries = (
        repository.index_entries(repo)
        if revision is None
        else repository.tree_entries(repo, repository.resolve(repo, revision))
    )
    folders = [
        entry.path[: -len(WORKSPACE_FILE)].rstrip("/")
        for entry in entries
        if entry.path == WORKSPACE_FILE or entry.path.endswith(f"/{WORKSPACE_FILE}")
    ]
    if inside:
        return [folder for folder in folders if not any(part.startswith(".") for part in folder.split("/"))]
    # a workspace inside another belongs to nobody else
    return [
        f for f in folders if not any(f != other and f.startswith(f"{other}/" if other else "") for other in folders)
    ]


def day(text: str) -> datetime.date:
    """Read a date option."""
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise UserError(f"'{text}' is no date; write it like 2027-01-31") from None


def terms(as_of: str | None, batch: str | None = None, *, option: str = "--batch") -> Terms:
    """Give what figures depend on besides the formula."""
    on = day(as_of) if as_of else datetime.datetime.now(tz=datetime.UTC).astimezone().date()
    if batch is None:
        return Terms(on)
    from formula_vcs.units.unit_reading import QuantityError, read_quantity

    try:
        mass = read_quantity(batch, "mass")
        if mass.base == 0:
            raise QuantityError(f"'{batch}' is nothing, and nothing cannot be made")
        return Terms(on, mass)
    except QuantityError as bad:
        raise UserError(f"{option}: {bad.message}") from None


def say_arming(*places: WorkspaceRef) -> None:
    """Say on stderr, loudly, where this clone is not armed as its .gitattributes expects."""
    from formula_vcs.setup.armed import armed_line

    lines = (armed_line(place.repo, place.root) for place in places if place.repo is not None)
    for line in dict.fromkeys(line for line in lines if line is not None):
        print(line, file=sys.stderr)


def quantity(text: str, dimension: str, option: str) -> Quantity:
    """Read a quantity that was typed after an option.

    :raises UserError: it is none of that dimension.
    """
    from formula_vcs.units.unit_reading import QuantityError, read_quantity

    try:
        return read_quantity(text, dimension)
    except QuantityError as bad:
        raise UserError(f"{option}: {bad.message}") from None
