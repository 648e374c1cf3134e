"""``git formula show``: a recipe with its figures, label and findings; an ingredient with its data and its uses."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

from formula_vcs.commands import targets, where
from formula_vcs.errors import OK, UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.model.recipe import Recipe
from formula_vcs.reports.sheets import IngredientSheet, Moment, RecipeSheet, ingredient_sheet, recipe_sheet

if TYPE_CHECKING:
    from formula_vcs.figures.process import Process


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "target",
        metavar="ID[@REV]|REV:PATH|PATH",
        help="a recipe or ingredient; recipe:ID or ingredient:ID where both have the id",
    )
    parser.add_argument("--format", choices=("text", "json", "markdown"), default="text")
    parser.add_argument("--batch", metavar="MASS", help='cost it for a batch of this size, like "250 kg"')
    parser.add_argument(
        "--process", action="store_true", help="walk the process: lanes of vessels, and what each charge sees"
    )
    parser.add_argument(
        "--preservation", action="store_true", help="free acid over the pH range, water activity, low risk (estimates)"
    )
    targets.arguments(parser, "recipe or ingredient")


def run(args: argparse.Namespace) -> int:
    """Find the file, work out what follows from it, and show it."""
    terms = where.terms(args.as_of, args.batch)
    target = targets.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe", "ingredient"))
    with target.snapshot:
        sheet = _sheet(target, terms)
        if args.process or args.preservation:
            _parts(sheet, args)
            return OK
        import_module(f"formula_vcs.reports.show_{args.format}").write(sheet, out=sys.stdout)
    sys.stdout.flush()
    where.say_arming(target.place)
    return OK


def _parts(sheet: RecipeSheet | IngredientSheet, args: argparse.Namespace) -> None:
    """Show the walk of the process, or preservation and water, instead of the sheet; in json, beside it."""
    chosen = [name for name in ("process", "preservation") if getattr(args, name)]
    if not isinstance(sheet, RecipeSheet):
        raise UserError(f"--{chosen[0]}: an ingredient has none; name a recipe")
    if args.format == "markdown":
        raise UserError(f"--{chosen[0]} is shown as text and json; markdown comes with a later version")
    if args.format == "json":
        from formula_vcs.reports import check_json, show_json

        more = {name: _data(sheet, name) for name in chosen}
        check_json.dump({**show_json.recipe(sheet), **more}, sys.stdout)
    else:
        for number, name in enumerate(chosen):
            print(end="\n" if number else "")
            _text(sheet, name)
    sys.stdout.flush()


def _data(sheet: RecipeSheet, name: str) -> dict[str, Any]:
    if name == "preservation":
        from formula_vcs.reports import preservation_json

        return preservation_json.preservation(sheet)
    from formula_vcs.reports import process_json

    return process_json.process(sheet.sums, _walked(sheet))


def _text(sheet: RecipeSheet, name: str) -> None:
    if name == "preservation":
        from formula_vcs.reports import preservation_text

        preservation_text.write(sheet, out=sys.stdout)
        return
    from formula_vcs.reports import process_text

    process_text.write(sheet.recipe.title, _walked(sheet), out=sys.stdout)


def _walked(sheet: RecipeSheet) -> Process:
    from formula_vcs.figures.process import process

    return process(sheet.sums, None if sheet.terms.batch is None else sheet.terms.batch.base)


def _sheet(target: targets.Target, terms: Terms) -> RecipeSheet | IngredientSheet:
    moment = Moment(target.revision, target.commit, target.shown(target.file), target.shown)
    if target.kind == "ingredient":
        ingredient = target.snapshot.ingredient(target.id)
        if ingredient is None:
            raise UserError(f"'{moment.file}' is no ingredient that can be read")
        return ingredient_sheet(target.snapshot, ingredient, moment, terms)
    return recipe_sheet(target.snapshot, readable(target), moment, terms)


def readable(target: targets.Target) -> Recipe:
    """Read the recipe of a target.

    :raises UserError: its file does not parse.
    """
    read = target.snapshot.read(target.file)
    if not read.whole:
        first = min(read.findings, key=lambda finding: (finding.line, finding.column))
        spot = f"{target.shown(target.file)}:{first.line}:{first.column}"
        raise UserError(f"{spot}: {first.message}; 'git formula check' says all that is wrong")
    return Recipe(target.id, read.facts, target.file)
