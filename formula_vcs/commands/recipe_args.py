"""Which file a person means by ``hand-cream``, ``hand-cream@v1``, ``HEAD~1:recipes/hand-cream.toml`` or a path."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from formula_vcs.commands import workspace_args
from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.workspace.snapshot import Snapshot, id_of, kind_of, no_workspace

SHELVES: Final = {"recipe": "recipe", "ingredient": "ingredients"}
INDEX: Final = ""  # the revision of ":path", as git has it


@dataclass(frozen=True)
class Target:
    """One recipe or ingredient at one moment; ``kind`` is "recipe" or "ingredient".  Its snapshot is to be closed."""

    place: workspace_args.WorkspaceRef
    snapshot: Snapshot
    kind: str
    id: str
    file: str
    commit: str | None

    @property
    def revision(self) -> str:
        """Name the moment: a revision as it was typed, "index", "work tree"."""
        return self.snapshot.label

    def shown(self, path: str) -> str:
        """Write a path of the workspace as it is found from here, or in the commit."""
        if self.snapshot.label == "work tree":
            return self.place.shown(path)
        return f"{self.place.folder}/{path}" if self.place.folder else path


@dataclass(frozen=True, slots=True)
class RecipeRequest:
    """The words taken apart: a kind where one was given, an id or a path, and a revision."""

    kind: str | None
    name: str
    path: str | None
    revision: str | None
    from_top: bool = False


def arguments(parser: argparse.ArgumentParser, what: str) -> None:
    """Declare what show, label and uses have in common."""
    parser.add_argument("--rev", metavar="REV", help=f"the {what} as it was in a commit")
    parser.add_argument("--as-of", metavar="DATE", help="prices and accepted findings as of a day (default: today)")
    workspace_args.option(parser)


def taken_apart(word: str, revision: str | None) -> RecipeRequest:
    """Take the words of a target apart.

    :raises UserError: a revision is given twice, or there is no name.
    """
    kind, _, rest = word.partition(":") if word.startswith(("recipe:", "ingredient:")) else ("", "", word)
    inline: str | None = None
    path: str | None = None
    from_top = False
    if not kind and ":" in rest and not Path(rest).exists():
        inline, _, path = rest.rpartition(":") if rest.startswith(":/") else rest.partition(":")
        from_top = not path.startswith(("./", "../"))
    elif "@" in rest and not Path(rest).exists():
        rest, _, inline = rest.partition("@")
    if path is None and not kind and (rest.endswith(".toml") or "/" in rest or os.sep in rest):
        path = rest
    if not (path or rest):
        raise UserError(f"'{word}' names nothing")
    if inline is not None and revision is not None:
        raise UserError(f"'{word}' names a revision, and so does --rev; one of them will do")
    return RecipeRequest(
        kind or None, id_of(path) if path else rest, path, revision if inline is None else inline, from_top
    )


def find(word: str, *, revision: str | None, workspace: str | None, wanted: Sequence[str]) -> Target:
    """Find the one file that a word means, among kinds of files; the first wanted kind is what is mostly meant.

    :raises UserError: there is none, or more than one.
    """
    asked = taken_apart(word, revision)
    kinds = [kind for kind in wanted if asked.kind in (None, kind)]
    found: list[Target] = []
    known: list[str] = []
    others: list[str] = []
    opened: list[Snapshot] = []
    label = "work tree"
    try:
        for place in _places(workspace, asked.revision):
            snapshot, commit = _open(place, asked.revision)
            opened.append(snapshot)
            label = snapshot.label
            if not snapshot.exists:
                continue
            found += _in(place, snapshot, commit, asked, kinds)
            known += [name for kind in kinds for name in snapshot.ids(SHELVES[kind])]
            others += [kind for kind in SHELVES if kind not in kinds and asked.name in snapshot.ids(SHELVES[kind])]
        if not any(snapshot.exists for snapshot in opened):
            raise no_workspace(f"this folder ({label})")
        target = _one(found, asked, kinds or wanted, known, others, label)
    except UserError:
        for snapshot in opened:
            snapshot.source.close()
        raise
    for snapshot in opened:
        if snapshot is not target.snapshot:
            snapshot.source.close()
    return target


def _places(workspace: str | None, revision: str | None) -> list[workspace_args.WorkspaceRef]:
    if revision == INDEX:
        return workspace_args.places(workspace, staged=True)
    return workspace_args.places(workspace, revision)


def _open(place: workspace_args.WorkspaceRef, revision: str | None) -> tuple[Snapshot, str | None]:
    if revision is None:
        return place.work_tree(), None
    if revision == INDEX:
        return place.index(), None
    snapshot = place.revision(revision)
    return snapshot, repository.resolve(place.repo, revision) if place.repo is not None else None


def _in(
    place: workspace_args.WorkspaceRef,
    snapshot: Snapshot,
    commit: str | None,
    asked: RecipeRequest,
    kinds: Sequence[str],
) -> list[Target]:
    path = _inside(place, asked) if asked.path is not None else None
    if path is not None:
        kind = {"recipe": "recipe", "ingredients": "ingredient"}.get(kind_of(path))
        if kind is None or path not in snapshot.listing or kind not in kinds:
            return []
        return [Target(place, snapshot, kind, id_of(path), path, commit)]
    if asked.path is not None:
        return []
    found = [
        Target(place, snapshot, kind, asked.name, snapshot.ids(SHELVES[kind])[asked.name], commit)
        for kind in kinds
        if asked.name in snapshot.ids(SHELVES[kind])
    ]
    ingredient = snapshot.ingredient(asked.name) if len(found) == 2 else None
    if ingredient is not None and ingredient.recipe == asked.name:
        return found[:1]  # a premix and the recipe that it is made by: one thing
    return found


def _inside(place: workspace_args.WorkspaceRef, asked: RecipeRequest) -> str | None:
    typed = asked.path or ""
    if asked.from_top:
        under = f"{place.folder}/" if place.folder else ""
        return os.path.normpath(typed)[len(under) :] if os.path.normpath(typed).startswith(under) else None
    try:
        return place.in_workspace(typed)
    except UserError:
        return None


def _one(  # noqa: PLR0917 - what is found, and all that a refusal names
    found: list[Target],
    asked: RecipeRequest,
    wanted: Sequence[str],
    known: list[str],
    others: list[str],
    label: str,
) -> Target:
    if len(found) == 1:
        return found[0]
    if len({target.place.root for target in found}) > 1:
        folders = ", ".join(os.path.relpath(target.place.root) for target in found)
        raise UserError(f"'{asked.name}' is in several workspaces ({folders}); say which with --workspace")
    if found:
        choices = " or ".join(f"{target.kind}:{asked.name}" for target in found)
        raise UserError(f"'{asked.name}' is a recipe and an ingredient; write {choices}")
    if others:
        raise UserError(f"'{asked.name}' is {_a(others[0])}, and {_a(wanted[0])} is wanted")
    from formula_vcs.toml.takers import nearest

    near = nearest(asked.name, known)
    raise UserError(f"no {' or '.join(wanted)} is called '{asked.path or asked.name}' ({label}){near}")


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def readable(target: Target) -> Recipe:
    """Read the recipe of a target.

    :raises UserError: its file does not parse.
    """
    read = target.snapshot.read(target.file)
    if not read.whole:
        first = min(read.findings, key=lambda finding: (finding.line, finding.column))
        spot = f"{target.shown(target.file)}:{first.line}:{first.column}"
        raise UserError(f"{spot}: {first.message}; 'git formula check' says all that is wrong")
    return Recipe(target.id, read.facts, target.file)
