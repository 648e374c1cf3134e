"""``git formula blame``: each line of a recipe with the commit that last changed its meaning."""

from __future__ import annotations

import argparse
import sys

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import OK, UserError
from formula_vcs.git import repository
from formula_vcs.history.blame import not_committed
from formula_vcs.history.versions import History, versions
from formula_vcs.model.facts import ALIKE, likeness
from formula_vcs.model.recipe import Recipe
from formula_vcs.reports import formats
from formula_vcs.reports.blame import REPORT
from formula_vcs.reports.blame_sheet import BlameSheet, blame_sheet
from formula_vcs.workspace.snapshot import Snapshot


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "target",
        metavar="RECIPE[@REV]|REV:PATH|PATH",
        help="a recipe; without a revision, what is not committed yet counts",
    )
    parser.add_argument("--rev", metavar="REV", help="the recipe as it was in a commit")
    parser.add_argument(
        "--first-parent", action="store_true", help="owe what came in by a merge to the merge, not to the side's commit"
    )
    parser.add_argument("--format", choices=formats.EVERY, default="text")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Follow every line back, and show whom it is owed to."""
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        recipe = readable(target)
        sheet = _sheet(target, recipe, first_parent=args.first_parent)
    formats.write(REPORT, sheet, args.format, sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(target.place)
    return OK


def _sheet(target: recipe_args.Target, recipe: Recipe, *, first_parent: bool) -> BlameSheet:
    repo, folder = target.place.repo, target.place.folder
    if repo is None:
        raise UserError("this workspace is in no git repository, so nobody knows who changed it")
    past = _past(repo, folder, target, recipe, first_parent=first_parent)
    tip = None if past is None else past.tip
    formula = target.snapshot.formula(recipe)
    if tip is None or tip.formula != formula:
        tip = not_committed(tip, formula, target.file)
    order = {version.commit.oid: number for number, version in enumerate(() if past is None else past.versions)}
    shown = target.shown(target.file)
    return blame_sheet(tip, formula, order, revision=target.revision, commit=target.commit, file=shown)


def _past(
    repo: repository.Repo, folder: str, target: recipe_args.Target, recipe: Recipe, *, first_parent: bool
) -> History | None:
    """Give the history behind a target; None for a recipe that no commit has."""
    if target.commit is not None:
        return versions(repo, folder, target.id, target.commit, first_parent=first_parent)
    if not repository.has_commits(repo):
        return None
    with target.place.revision("HEAD") as head:
        name = target.id if target.id in head.ids("recipe") else _was_called(head, target, recipe)
    return None if name is None else versions(repo, folder, name, first_parent=first_parent)


def _was_called(head: Snapshot, target: recipe_args.Target, recipe: Recipe) -> str | None:
    """Name the recipe of the last commit whose file was renamed, and not committed yet, into this one."""
    gone = (head.recipe(name) for name in head.ids("recipe") if name not in target.snapshot.ids("recipe"))
    ranked = [(likeness(old.facts, recipe.facts), old.id) for old in gone if old is not None]
    best = max(ranked, default=(0.0, ""))
    return best[1] if best[0] >= ALIKE else None
