"""``git formula show``: a recipe with its figures, label and findings; an ingredient with its data and its uses."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import OK, UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.reports import formats
from formula_vcs.reports.sheets import IngredientSheet, RecipeSheet, RevisionShown, ingredient_sheet, recipe_sheet
from formula_vcs.reports.show import REPORT, SheetShown, ShowParts

if TYPE_CHECKING:
    from formula_vcs.figures.process_run import Process
    from formula_vcs.model.approval import ApprovalStanding
    from formula_vcs.reports.evidence_sheet import EvidenceSheet


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "target",
        metavar="ID[@REV]|REV:PATH|PATH",
        help="a recipe or ingredient; recipe:ID or ingredient:ID where both have the id",
    )
    parser.add_argument("--format", choices=formats.EVERY, default="text")
    parser.add_argument("--batch", metavar="MASS", help='cost it for a batch of this size, like "250 kg"')
    parser.add_argument(
        "--process", action="store_true", help="walk the process: lanes of vessels, and what each charge sees"
    )
    parser.add_argument(
        "--preservation", action="store_true", help="free acid over the pH range, water activity, low risk (estimates)"
    )
    parser.add_argument(
        "--evidence", action="store_true", help="what its studies, reports and certificates are still worth, and why"
    )
    parser.add_argument("--approvals", action="store_true", help="who approved this version, and all that was signed")
    recipe_args.arguments(parser, "recipe or ingredient")


def run(args: argparse.Namespace) -> int:
    """Find the file, work out what follows from it, and show it."""
    terms = workspace_args.terms(args.as_of, args.batch)
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe", "ingredient"))
    with target.snapshot:
        sheet = _sheet(target, terms)
        parts = _parts(sheet, args, target)
        formats.write(REPORT, SheetShown(sheet, parts), args.format, sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(target.place)
    return OK


_PARTS: Final = ("process", "preservation", "evidence", "approvals")


def _parts(sheet: RecipeSheet | IngredientSheet, args: argparse.Namespace, target: recipe_args.Target) -> ShowParts:
    """Work out what is shown in place of the sheet; in json, beside it."""
    chosen = [name for name in _PARTS if getattr(args, name)]
    if not chosen:
        return ShowParts()
    if not isinstance(sheet, RecipeSheet):
        raise UserError(f"--{chosen[0]}: an ingredient has none; name a recipe")
    return ShowParts(
        _walked(sheet) if args.process else None,
        args.preservation,
        _evidence(sheet, target) if args.evidence else None,
        _approvals(sheet, target) if args.approvals else None,
    )


def _approvals(sheet: RecipeSheet, target: recipe_args.Target) -> ApprovalStanding:
    """Say how what is shown stands, asked from the commit that it is of, or from HEAD."""
    from formula_vcs.approvals.asking import standing_of
    from formula_vcs.git import repository

    repo = target.place.repo
    if repo is None or not repository.has_commits(repo):
        raise UserError("approvals are told by a history, and nothing is committed here yet")
    return standing_of(repo, target.place.folder, target.commit or repository.resolve(repo, "HEAD"), sheet.sums.formula)


def _evidence(sheet: RecipeSheet, target: recipe_args.Target) -> EvidenceSheet:
    from formula_vcs.evidence.pinned_versions import PinnedVersions
    from formula_vcs.git import repository
    from formula_vcs.reports.evidence_sheet import evidence_sheet

    repo = target.place.repo
    commit = target.commit or ""
    if not commit and repo is not None and repository.has_commits(repo):
        commit = repository.resolve(repo, "HEAD")
    with PinnedVersions(repo, target.place.folder, store=target.place.store) as pins:
        return evidence_sheet(target.snapshot, sheet, pins, commit)


def _walked(sheet: RecipeSheet) -> Process:
    from formula_vcs.figures.process_run import process

    return process(sheet.sums, None if sheet.terms.batch is None else sheet.terms.batch.base)


def _sheet(target: recipe_args.Target, terms: Terms) -> RecipeSheet | IngredientSheet:
    moment = RevisionShown(target.revision, target.commit, target.shown(target.file), target.shown)
    if target.kind == "ingredient":
        ingredient = target.snapshot.ingredient(target.id)
        if ingredient is None:
            raise UserError(f"'{moment.file}' is no ingredient that can be read")
        return ingredient_sheet(target.snapshot, ingredient, moment, terms)
    return recipe_sheet(target.snapshot, readable(target), moment, terms)
