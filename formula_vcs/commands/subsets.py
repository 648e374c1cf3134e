"""A review of some of the changes alone: ``--only`` and ``--without``, and the patch that takes them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import Final

from formula_vcs.commands import workspace_args
from formula_vcs.commands.change_args import parted, said
from formula_vcs.errors import UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.git import repository
from formula_vcs.git.patch import FileChange, patch
from formula_vcs.model.values import dataclass, replace
from formula_vcs.review.compare import ChosenChanges, compare
from formula_vcs.review.subset import Pick, Subset, TakenPart, content_of, picks
from formula_vcs.toml.atomic import write_output
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.workspace.snapshot import Snapshot

_LINK: Final = "120000"


@dataclass(frozen=True)
class Opened:
    """Both sides of one workspace, and the recipes that are asked for (all, where none is named)."""

    place: workspace_args.WorkspaceRef
    old: Snapshot
    new: Snapshot
    recipes: tuple[str, ...]


@dataclass(frozen=True)
class TakenSides:
    """The sides with only some changes taken, in words and by their ids, and the files that differ then."""

    opened: tuple[Opened, ...]
    words: str
    part: ChosenChanges
    files: tuple[FileChange, ...]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--only",
        action="append",
        default=[],
        metavar="CHANGE",
        help="review as if only these changes were made: 'glycerin', 'step/emulsify', 'RECIPE:CHANGE', an id of json",
    )
    which.add_argument(
        "--without", action="append", default=[], metavar="CHANGE", help="review as if all but these were made"
    )
    parser.add_argument(
        "--patch",
        metavar="FILE",
        help="write what --only or --without take as a patch for 'git apply'; '-' prints it in place of the review",
    )


def narrowed(opened: Sequence[Opened], args: argparse.Namespace, commit: str | None, terms: Terms) -> TakenSides:
    """Take some of the changes; ``commit`` is the old side where that is one.  Raises UserError."""
    found: list[tuple[Opened, list[Pick], tuple[str, ...]]] = []
    for one in opened:
        compared = compare(one.old, one.new, terms, one.recipes, findings=False, why=False, measure=False)
        found.append((one, picks(compared, one.old, one.new), compared.touched))
    part = parted([pick for _, mine, _ in found for pick in mine], args.only, args.without)
    taken = set(map(id, part.taken))
    sides: list[Opened] = []
    files: list[FileChange] = []
    for one, mine, touched in found:
        own = TakenPart(
            tuple(pick for pick in mine if id(pick) in taken), tuple(pick for pick in mine if id(pick) not in taken)
        )
        known = {path for pick in mine for path in (*pick.edits, *pick.files, *(pick.rename or ()))}
        paths = [path for path in touched if path in known or not one.recipes]
        subset = _subset(one, own, paths, rest=bool(args.without))
        sides.append(replace(one, new=subset.snapshot()))
        files += _changed(one, subset, commit)
    return TakenSides(tuple(sides), said(part), ChosenChanges(_ids(part.taken), _ids(part.left)), tuple(files))


def _subset(one: Opened, part: TakenPart, touched: Sequence[str], *, rest: bool) -> Subset:
    try:
        return Subset(one.old, one.new, part, rest=rest, touched=touched)
    except CannotWrite as error:
        raise UserError(f"these changes cannot be taken by themselves: {error}") from error


def _ids(found: Sequence[Pick]) -> tuple[tuple[str, str], ...]:
    return tuple((pick.recipe, pick.change.id) for pick in found)


def _changed(one: Opened, subset: Subset, commit: str | None) -> list[FileChange]:
    folder = f"{one.place.folder}/" if one.place.folder else ""
    repo = one.place.repo
    entries = repository.tree_entries(repo, commit, one.place.folder) if repo is not None and commit is not None else []
    modes = {entry.path: entry.mode for entry in entries}
    return [
        FileChange(f"{folder}{path}", content_of(one.old, path), content, modes.get(f"{folder}{path}", "100644"))
        for path, content in subset.files.items()
    ]


def write_patch(name: str, files: Sequence[FileChange]) -> None:
    """Write the patch to a file, or print it for ``-``.  Raises UserError."""
    link = next((file.path for file in files if file.mode == _LINK), None)
    if link is not None:
        raise UserError(f"'{link}' is a link, and a patch would change where it leads; change the file itself")
    content = patch(list(files))
    if name == "-":
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    write_output(name, content)
