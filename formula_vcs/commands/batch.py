"""``git formula batch``: for now only the dry run of a move to another size or other equipment."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module

from formula_vcs.commands import targets, where
from formula_vcs.commands.show import readable
from formula_vcs.errors import OK, UserError
from formula_vcs.model.equipment import Equipment


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("target", metavar="ID[@REV]|REV:PATH|PATH", help="a recipe")
    parser.add_argument("--size", metavar="MASS", help='the new batch size, like "250 kg"')
    parser.add_argument("--on", metavar="EQUIPMENT", help="the equipment that takes over: a vessel, or a mixer")
    parser.add_argument("--dry-run", action="store_true", help="write nothing; say what the move does to each step")
    parser.add_argument("--format", choices=("text", "json"), default="text")
    targets.arguments(parser, "recipe")


def run(args: argparse.Namespace) -> int:
    """Say what a move to another size does to the process."""
    if not args.dry_run:
        raise UserError("batch records and weigh sheets are not built yet; --dry-run says what a new size changes")
    if args.size is None or args.on is None:
        raise UserError('--dry-run needs --size, like "250 kg", and --on, a piece of equipment')
    from formula_vcs.figures.process import process
    from formula_vcs.figures.scale_up import scale
    from formula_vcs.figures.sums import Sums

    terms = where.terms(args.as_of, args.size, option="--size")
    target = targets.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        formula = target.snapshot.formula(readable(target))
        machine = _machine(target, args.on)
        assert terms.batch is not None  # noqa: S101 - --size was given
        if not formula.recipe.steps:
            raise UserError(f"'{formula.recipe.id}' states no steps: there is nothing to scale")
        found = scale(process(Sums(formula)), terms.batch.base, machine)
        import_module(f"formula_vcs.reports.scale_{args.format}").write(formula.recipe, found, out=sys.stdout)
    sys.stdout.flush()
    return OK


def _machine(target: targets.Target, name: str) -> Equipment:
    found = target.snapshot.equipment(name)
    if found is None:
        from formula_vcs.files.reading import nearest

        known = target.snapshot.ids("equipment")
        raise UserError(f"no equipment is called '{name}'{nearest(name, known)}")
    if not found.readable:
        raise UserError(f"'{found.file}' does not parse; 'git formula check' says why")
    if found.kind == "balance":
        raise UserError(f"'{name}' is a balance: no step is done in it; name a vessel or a mixer")
    return found
