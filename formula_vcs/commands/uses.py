"""``git formula uses``: where a material or substance goes, how much of it, through which premix; lots too."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from typing import Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.law.sought import Sought, by_entry, by_function, by_name, by_number, found_in
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.reports import formats
from formula_vcs.reports import uses as uses_report
from formula_vcs.reports.sheets import RevisionShown, Whereabouts, uses
from formula_vcs.workspace.snapshot import Snapshot, no_workspace

_OF_LOTS: Final = "csv"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "target", nargs="?", metavar="INGREDIENT[@REV]", help="an ingredient's id, or recipe:PREMIX, or a path"
    )
    parser.add_argument("--inci", metavar="NAME", help="every ingredient that holds this substance, by any name of it")
    parser.add_argument("--cas", metavar="NUMBER", help="every ingredient that holds the substance of this CAS number")
    parser.add_argument("--entry", metavar="ENTRY", help='every ingredient that holds something of an entry, "III/24"')
    parser.add_argument("--function", metavar="WORD", help='every ingredient of this function, "preservative"')
    parser.add_argument("--lot", metavar="LOT", help="every batch that holds some of this lot, instead")
    parser.add_argument("--batch", metavar="MASS", help='masses for a batch of this size, like "250 kg"')
    parser.add_argument(
        "--format",
        choices=(*formats.EVERY, _OF_LOTS),
        default="text",
        help=f"{_OF_LOTS} is for lots only",
    )
    recipe_args.arguments(parser, "uses")


def run(args: argparse.Namespace) -> int:
    """List the uses."""
    asked = (args.target, args.inci, args.cas, args.entry, args.function, args.lot)
    if sum(word is not None for word in asked) != 1:
        words = (
            "a substance with --inci or --cas, an entry with --entry, a function with --function, or a lot with --lot"
        )
        raise UserError(f"name one ingredient, or {words}")
    if args.lot is not None:
        return _lot(args)
    if args.format == _OF_LOTS:
        raise UserError(f"--format {args.format} is for lots (--lot)")
    found, place = _ingredient(args) if args.target is not None else _looked_for(args)
    formats.write(uses_report.REPORT, found, args.format, sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(place)
    return OK


def _lot(args: argparse.Namespace) -> int:
    """Say where a lot went, through premixes."""
    from formula_vcs.reports import lot_uses
    from formula_vcs.trace.batch_context import Records
    from formula_vcs.trace.recall import recall

    if args.batch is not None:
        raise UserError("--batch is for ingredients: a lot is in batches that were made")
    place = workspace_args.place(args.workspace, args.rev)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        found = recall(Records(snapshot), args.lot)
    if args.format == _OF_LOTS:
        lot_uses.write_csv(found, sys.stdout)
    else:
        formats.write(lot_uses.REPORT, found, args.format, sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(place)
    return OK


def _ingredient(args: argparse.Namespace) -> tuple[Whereabouts, workspace_args.WorkspaceRef]:
    premix = args.target.startswith("recipe:")
    wanted = ("recipe",) if premix else ("ingredient",)
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=wanted)
    with target.snapshot as snapshot:
        names = tuple(_made_by(snapshot, target.id)) if premix else (target.id,)
        moment = RevisionShown(target.revision, target.commit, target.shown(target.file), target.shown)
        found = uses(snapshot, names, workspace_args.terms(None, args.batch).batch)
        return Whereabouts(target.id, names, moment, found), target.place


def _made_by(snapshot: Snapshot, recipe: str) -> Iterator[str]:
    for name in snapshot.ids("ingredients"):
        ingredient = snapshot.ingredient(name)
        if ingredient is not None and ingredient.recipe == recipe:
            yield name


def _sought(args: argparse.Namespace) -> Sought:
    """Read what is looked for."""
    if args.inci is not None:
        return by_name(args.inci)
    if args.function is not None:
        return by_function(args.function)
    found = by_number(args.cas) if args.cas is not None else by_entry(args.entry)
    if found is None:
        words = f"'{args.cas}' {cas_trouble(args.cas)}" if args.cas is not None else f"'{args.entry}' is no entry"
        raise UserError(words if args.cas is not None else f'{words}; one looks like "III/24" or "21 CFR 700.13"')
    return found


def _looked_for(args: argparse.Namespace) -> tuple[Whereabouts, workspace_args.WorkspaceRef]:
    """Find the ingredients that hold what is looked for; premixes are seen through, so not named."""
    sought = _sought(args)
    place = workspace_args.place(args.workspace, args.rev)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        if not snapshot.exists:
            raise no_workspace(f"this folder ({snapshot.label})")
        materials = [found for name in snapshot.ids("ingredients") if (found := snapshot.ingredient(name)) is not None]
        names = tuple(material.id for material in materials if found_in(material, sought))
        if args.inci is not None and not names:
            raise UserError(_not_there(args.inci, sought, snapshot.label, materials))
        moment = RevisionShown(snapshot.label, None, "")
        used = uses(snapshot, names, workspace_args.terms(None, args.batch).batch, sought)
        substance = args.function is None
        return Whereabouts(sought.said, names, moment, used, substance=substance, means=sought.meant), place


def _not_there(name: str, sought: Sought, label: str, materials: list[Ingredient]) -> str:
    from formula_vcs.toml.takers import nearest

    known = {stated: None for material in materials for stated in (*material.substances, *material.allergens)}
    meant = f", which is '{sought.meant}'" if sought.meant else ""
    return f"no ingredient states '{name}'{meant} ({label}){nearest(name, known)}"
