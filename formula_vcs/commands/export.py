"""``git formula export``: recipes, materials, prices, weighings and overviews as spreadsheets."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.write_tables import SheetTable, separated, workbook
from formula_vcs.words.quoting import slug
from formula_vcs.workspace.snapshot import Snapshot

KINDS: Final = (
    "recipes", "materials", "composition", "prices", "allergens", "portfolio", "weighings", "comparison",
)  # fmt: skip


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("kind", choices=KINDS, help="what is exported")
    parser.add_argument("ids", nargs="*", metavar="RECIPE|BATCH", help="two of RECIPE[@REV] for a comparison")
    parser.add_argument("-o", "--output", metavar="FILE", help="an .xlsx or .csv file (default: csv to the terminal)")
    parser.add_argument("--decimal", choices=(".", ","), default=".", help="the decimal sign of a .csv file")
    parser.add_argument("--rev", metavar="REV", help="as it was in a commit")
    parser.add_argument("--as-of", metavar="DATE", help="prices and findings as of a day (default: today)")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Gather the tables and write them."""
    tables = _comparison(args) if args.kind == "comparison" else _of_workspace(args)
    _write(tables, args)
    return OK


def _of_workspace(args: argparse.Namespace) -> list[SheetTable]:
    place = workspace_args.place(args.workspace, args.rev)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        if args.kind in ("recipes", "weighings"):
            _known(snapshot, args)
        elif args.ids:
            raise UserError(f"{args.kind} is exported whole; '{args.ids[0]}' names nothing here")
        return _tables(snapshot, args)


def _known(snapshot: Snapshot, args: argparse.Namespace) -> None:
    kind = "recipe" if args.kind == "recipes" else "batches"
    for name in args.ids:
        if name not in snapshot.ids(kind):
            from formula_vcs.toml.takers import nearest

            what = "recipe" if kind == "recipe" else "batch"
            raise UserError(f"no {what} is called '{name}'{nearest(name, snapshot.ids(kind))}")


def _tables(snapshot: Snapshot, args: argparse.Namespace) -> list[SheetTable]:
    from formula_vcs.sheets import export_recipes

    draft = Draft(snapshot)
    if args.kind == "recipes":
        return export_recipes.recipe_tables(draft, tuple(args.ids))
    if args.kind == "portfolio":
        return [export_recipes.portfolio_table(snapshot, workspace_args.terms(args.as_of))]
    if args.kind == "weighings":
        ids = args.ids or list(snapshot.ids("batches"))
        return export_recipes.weighing_tables(snapshot, ids)
    if args.kind == "materials":
        return export_recipes.material_tables(draft)
    table = {
        "composition": export_recipes.composition_table,
        "prices": export_recipes.price_table,
        "allergens": export_recipes.allergen_table,
    }[args.kind]
    return [table(draft)]


def _comparison(args: argparse.Namespace) -> list[SheetTable]:
    from formula_vcs.sheets.export_recipes import comparison_tables

    if len(args.ids) != 2:
        raise UserError("a comparison takes two versions, like hand-cream@v1 hand-cream")
    found = []
    for word in args.ids:
        target = recipe_args.find(word, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
        with target.snapshot:
            formula = target.snapshot.formula(recipe_args.readable(target))
            formula_name = word if "@" in word else f"{word} ({target.revision})"
            found.append((formula_name, formula))
    return comparison_tables(found[0], found[1], workspace_args.terms(args.as_of))


def _write(tables: list[SheetTable], args: argparse.Namespace) -> None:
    from formula_vcs.toml.atomic import write_output

    if not tables:
        raise UserError(f"there are no {args.kind} to export")
    output = args.output
    if output in (None, "-"):
        _print(tables, args)
    elif output.lower().endswith(".xlsx"):
        write_output(output, workbook(tables))
    elif output.lower().endswith(".csv"):
        for table, name in _csv_names(tables, Path(output)):
            write_output(name, separated(table, args.decimal))
    else:
        raise UserError(f"-o: '{output}' ends neither in .xlsx nor in .csv")


def _print(tables: list[SheetTable], args: argparse.Namespace) -> None:
    if len(tables) > 1:
        names = ", ".join(table.name for table in tables[:6])
        raise UserError(f"these are {len(tables)} tables ({names}): name a file with -o")
    sys.stdout.write(separated(tables[0], args.decimal).decode("utf-8-sig").replace("\r\n", "\n"))
    sys.stdout.flush()


def _csv_names(tables: list[SheetTable], output: Path) -> list[tuple[SheetTable, str]]:
    """Give each table a file: the first has the name that was given, the others their own behind it."""
    others = [str(output.with_name(f"{output.stem}-{slug(table.name)}.csv")) for table in tables[1:]]
    return list(zip(tables, [str(output), *others], strict=True))
