"""``git formula batch``: make a batch of a recipe, print its sheet, record it, cost it; or try another size."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from typing import Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import OK, UserError
from formula_vcs.model.equipment import Equipment
from formula_vcs.reports import formats
from formula_vcs.workspace.snapshot import Snapshot

_MAKING: Final = (
    "size", "packs", "overfill", "out", "on", "date", "by", "lot", "id", "without_claim", "dry_run", "rev", "as_of",
)  # fmt: skip
_RECORDING: Final = ("weighings", "result", "made", "packs", "close", "by", "lot", "partial", "replace", "date")
# First word: (module, its function, the options that it takes besides --format, --output and --workspace)
_MODES: Final[dict[str, tuple[str, str, tuple[str, ...]]]] = {
    "record": ("batch_record", "run", _RECORDING),
    "sheet": ("batch_sheet", "run", ()),
    "cost": ("batch_sheet", "cost", ()),
}
_NAMES: Final = {"out": "yield"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.usage = (
        "git formula batch RECIPE --size MASS [options]\n"
        "       git formula batch RECIPE --packs N [--overfill SHARE] [--yield SHARE]\n"
        "                         [options]\n"
        "       git formula batch sheet|record|cost BATCH [options]"
    )
    parser.add_argument("words", nargs="+", metavar="RECIPE | sheet BATCH | record BATCH | cost BATCH", help=_WORDS)
    make = parser.add_argument_group("making a batch")
    make.add_argument("--size", metavar="MASS", help='the batch size, like "25 kg"')
    make.add_argument("--packs", metavar="N", help="packs to fill, from which the size follows; or packs filled")
    make.add_argument("--overfill", metavar="SHARE", help='filled over the nominal content on average, like "0.8 %%"')
    make.add_argument("--yield", dest="out", metavar="SHARE", help='what comes out of a batch, like "97 %%"')
    make.add_argument("--on", metavar="EQUIPMENT", action="append", help="equipment it is made or weighed on; again")
    make.add_argument("--date", metavar="DATE", help="the day it is made (default: today)")
    make.add_argument("--by", metavar="NAME", help="who makes it")
    make.add_argument("--lot", metavar="INGREDIENT=LOT", action="append", help="the lot that is taken; again")
    make.add_argument("--id", metavar="ID", help="the batch's id (default: the recipe's, the day, a number)")
    make.add_argument("--without-claim", metavar="CLAIM", action="append", help="make it although this needs facts")
    make.add_argument("--dry-run", action="store_true", help="write nothing; with --on, say what a move to it changes")
    record = parser.add_argument_group("recording a batch")
    record.add_argument("--weighings", metavar="CSV", help="weighings as a scale exports them")
    record.add_argument("--result", metavar="NAME=VALUE", action="append", help='a measured result, "pH=5.0"; again')
    record.add_argument("--made", metavar="MASS", help="what came out")
    record.add_argument("--close", action="store_true", help="finish the record: it is not edited after that")
    record.add_argument("--partial", action="store_true", help="write what can be read of the weighings, not all")
    record.add_argument("--replace", action="store_true", help="replace what is filled in already")
    parser.add_argument("--format", choices=("text", "html", "pdf", "json", "markdown"), default="text")
    parser.add_argument("-o", "--output", metavar="FILE", help="write the sheet to a file; its ending says the format")
    recipe_args.arguments(parser, "recipe")


_WORDS: Final = "a recipe; or what to do with a batch that is there, and its id or file"


def run(args: argparse.Namespace) -> int:
    """Do what the words ask for."""
    first, *rest = args.words
    if len(rest) > 1 or (rest and first not in _MODES):
        raise UserError(f"too many words: one recipe, or one of {', '.join(_MODES)} and a batch")
    if not rest and first in _MODES:
        raise UserError(f"'batch {first}' wants the id or the file of a batch; 'batch recipe:{first}' makes a recipe")
    if rest:
        module, function, taken = _MODES[first]
        _only(args, taken, f"batch {first}")
        if first != "cost":
            _no_markdown(args)
        status: int = getattr(import_module(f"formula_vcs.commands.{module}"), function)(args, rest[0])
        return status
    _only(args, _MAKING, "batch RECIPE")
    args.target = first
    if args.dry_run and args.on and not any(getattr(args, name) for name in ("lot", "by", "id")):
        return _move(args)
    _no_markdown(args)
    made: int = import_module("formula_vcs.commands.batch_make").run(args)
    return made


def _no_markdown(args: argparse.Namespace) -> None:
    """Refuse the one format that a weigh sheet has not."""
    if args.format == "markdown":
        raise UserError("a weigh sheet is text, html, pdf or json; markdown is for 'batch cost' and for --dry-run --on")


def _only(args: argparse.Namespace, taken: tuple[str, ...], what: str) -> None:
    """Refuse options that a mode does not take: ignored, they would promise what does not happen."""
    for name in dict.fromkeys((*_MAKING, *_RECORDING)):
        if getattr(args, name, None) and name not in taken:
            option = _NAMES.get(name, name).replace("_", "-")
            raise UserError(f"'{what}' takes no --{option}")


def _move(args: argparse.Namespace) -> int:
    """Say what a move to another size and other equipment does to the process; nothing is written."""
    if args.size is None or len(args.on) != 1:
        raise UserError('--dry-run with --on needs --size, like "250 kg", and one piece of equipment')
    if args.format not in formats.EVERY:
        raise UserError(f"a move to other equipment is shown as {', '.join(formats.EVERY)}, not as {args.format}")
    from formula_vcs.figures.breakdown import Breakdown
    from formula_vcs.figures.process_run import process
    from formula_vcs.figures.scale_up import scale
    from formula_vcs.reports.scale import REPORT, ScaleShown

    terms = workspace_args.terms(args.as_of, args.size, option="--size")
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        formula = target.snapshot.formula(readable(target))
        machine = _machine(target, args.on[0])
        assert terms.batch is not None  # noqa: S101 - --size was given
        if not formula.recipe.steps:
            raise UserError(f"'{formula.recipe.id}' states no steps: there is nothing to scale")
        found = scale(process(Breakdown(formula)), terms.batch.base, machine)
        formats.write(REPORT, ScaleShown(formula.recipe, found), args.format, sys.stdout)
    sys.stdout.flush()
    return OK


def _machine(target: recipe_args.Target, name: str) -> Equipment:
    found = machine_of(target.snapshot, name)
    if found.kind == "balance":
        raise UserError(f"'{name}' is a balance: no step is done in it; name a vessel or a mixer")
    return found


def machine_of(snapshot: Snapshot, name: str) -> Equipment:
    """Read a piece of equipment that a person named.

    :raises UserError: there is none of that name, or its file does not parse.
    """
    found = snapshot.equipment(name)
    if found is None:
        from formula_vcs.toml.takers import nearest

        raise UserError(f"no equipment is called '{name}'{nearest(name, snapshot.ids('equipment'))}")
    if not found.readable:
        raise UserError(f"'{found.file}' does not parse; 'git formula check' says why")
    return found
