"""``git formula label``: the ingredient list of a recipe, as it would be printed."""

from __future__ import annotations

import argparse
import sys

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import OK, UserError
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.reports import formats
from formula_vcs.reports import label as label_report
from formula_vcs.reports.sheets import MARKETS, RevisionShown, default_market, label_of


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("target", metavar="RECIPE[@REV]", help="a recipe's id, or REV:PATH, or a path")
    parser.add_argument("--market", choices=MARKETS, help="whose conventions (default: the recipe's first market)")
    parser.add_argument("--format", choices=formats.EVERY, default="text")
    recipe_args.arguments(parser, "recipe")


def run(args: argparse.Namespace) -> int:
    """Print the list."""
    day = workspace_args.terms(args.as_of).day
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        recipe = readable(target)
        if recipe.is_premix:
            raise UserError(f"'{recipe.id}' is a premix: it has no label of its own, only the products it goes into")
        formula = target.snapshot.formula(recipe)
        label = label_of(Breakdown(formula), args.market or default_market(formula), day)
    moment = RevisionShown(target.revision, target.commit, target.shown(target.file))
    shown = label_report.LabelShown(label, recipe, moment)
    formats.write(label_report.REPORT, shown, args.format, sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(target.place)
    return OK
