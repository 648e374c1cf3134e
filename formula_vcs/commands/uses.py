"""``git formula uses``: where an ingredient goes, how much of it, through which premix; and where a lot went."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from importlib import import_module
from typing import Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.model.ingredient import inci_key
from formula_vcs.reports.sheets import Moment, Whereabouts, uses
from formula_vcs.workspace.snapshot import Snapshot, no_workspace

_OF_LOTS: Final = ("html", "csv")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "target", nargs="?", metavar="INGREDIENT[@REV]", help="an ingredient's id, or recipe:PREMIX, or a path"
    )
    parser.add_argument("--inci", metavar="NAME", help="every ingredient that holds this substance, instead")
    parser.add_argument("--lot", metavar="LOT", help="every batch that holds some of this lot, instead")
    parser.add_argument("--batch", metavar="MASS", help='masses for a batch of this size, like "250 kg"')
    parser.add_argument(
        "--format",
        choices=("text", "json", "markdown", *_OF_LOTS),
        default="text",
        help=f"{' and '.join(_OF_LOTS)} are for lots only",
    )
    recipe_args.arguments(parser, "uses")


def run(args: argparse.Namespace) -> int:
    """List the uses."""
    if sum(word is not None for word in (args.target, args.inci, args.lot)) != 1:
        raise UserError("name one ingredient, or a substance with --inci, or a lot with --lot")
    if args.lot is not None:
        return _lot(args)
    if args.format in _OF_LOTS:
        raise UserError(f"--format {args.format} is for lots (--lot)")
    found, place = _substance(args) if args.inci is not None else _ingredient(args)
    import_module(f"formula_vcs.reports.uses.{args.format}").write(found, out=sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(place)
    return OK


def _lot(args: argparse.Namespace) -> int:
    """Say where a lot went, through premixes."""
    from formula_vcs.trace.batch_records import Records
    from formula_vcs.trace.recall import recall

    if args.batch is not None:
        raise UserError("--batch is for ingredients: a lot is in batches that were made")
    place = workspace_args.place(args.workspace, args.rev)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        found = recall(Records(snapshot), args.lot)
    import_module(f"formula_vcs.reports.lot_uses.{args.format}").write(found, out=sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(place)
    return OK


def _ingredient(args: argparse.Namespace) -> tuple[Whereabouts, workspace_args.Place]:
    premix = args.target.startswith("recipe:")
    wanted = ("recipe",) if premix else ("ingredient",)
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=wanted)
    with target.snapshot as snapshot:
        names = tuple(_made_by(snapshot, target.id)) if premix else (target.id,)
        moment = Moment(target.revision, target.commit, target.shown(target.file), target.shown)
        found = uses(snapshot, names, workspace_args.terms(None, args.batch).batch)
        return Whereabouts(target.id, names, moment, found), target.place


def _made_by(snapshot: Snapshot, recipe: str) -> Iterator[str]:
    for name in snapshot.ids("ingredients"):
        ingredient = snapshot.ingredient(name)
        if ingredient is not None and ingredient.recipe == recipe:
            yield name


def _substance(args: argparse.Namespace) -> tuple[Whereabouts, workspace_args.Place]:
    """Find the ingredients whose stated composition holds a substance; premixes are seen through, so not named."""
    place = workspace_args.place(args.workspace, args.rev)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        if not snapshot.exists:
            raise no_workspace(f"this folder ({snapshot.label})")
        known: dict[str, list[str]] = {}
        for name in snapshot.ids("ingredients"):
            ingredient = snapshot.ingredient(name)
            for inci in ingredient.substances if ingredient is not None else ():
                known.setdefault(inci_key(inci), []).append(name)
        key = inci_key(args.inci)
        names = known.get(key)
        if names is None:
            from formula_vcs.toml.takers import nearest

            raise UserError(f"no ingredient states '{args.inci}' ({snapshot.label}){nearest(args.inci, known)}")
        moment = Moment(snapshot.label, None, "")
        found = uses(snapshot, tuple(names), workspace_args.terms(None, args.batch).batch, key)
        return Whereabouts(" ".join(args.inci.split()), tuple(names), moment, found, substance=True), place
