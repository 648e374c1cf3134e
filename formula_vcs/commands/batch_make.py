"""``git formula batch RECIPE``: pin a version, settle what is weighed, write the batch files, print their sheets."""

from __future__ import annotations

import argparse
import datetime
import sys
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.batches.batch_gate import approval_of, committed, gate, lot_trouble, unapproved
from formula_vcs.batches.new_batch import BatchOrder, NewBatch, balances_of, size_for_packs, write_planned
from formula_vcs.batches.weigh_sheet import sheet_from_text
from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.batch import machine_of
from formula_vcs.commands.batch_sheet import emit, rendered
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.git import repository
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.toml.takers import nearest
from formula_vcs.workspace.snapshot import Snapshot

_MOST_PACKS: Final = 10**9


def run(args: argparse.Namespace) -> int:
    """Make a batch: nothing is written before everything is known to fit."""
    day = workspace_args.day(args.date) if args.date else workspace_args.terms(args.as_of).day
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot, target.place.work_tree() as here:
        recipe = readable(target)
        formula = target.snapshot.formula(recipe)
        folder = target.place.folder
        repo, commit = _commit(target)
        stopping = gate(formula, target.snapshot, day, args.without_claim or ())
        if stopping:
            return _refused(stopping, target, args)
        with PinnedVersions(repo, folder, store=target.place.store) as pins:
            pins.know(formula, target.snapshot)
            committed(formula, pins.at(commit, recipe.id), commit)
        standing = approval_of(formula, repo, folder, commit)
        lacking = () if standing is None else tuple(standing.lacking)
        if standing is not None and lacking and standing.need.refuse:
            return _refused(unapproved(standing, target.file), target, args)
        machines = tuple(machine_of(here, name) for name in args.on or ())
        balances = balances_of(here, machines)
        lots = _lots(args.lot or (), formula, here, day)
        packs, size = _size(args, formula)
        order = BatchOrder(
            target.place.root, here, formula, commit, day, size, machines, balances, lots, lacking, packs,
            args.overfill, args.out, args.by, args.id, tuple(args.without_claim or ()), args.dry_run,
        )  # fmt: skip

        def sheets(batches: Sequence[NewBatch]) -> bytes | str:
            made = [
                sheet_from_text(one.id, one.text, one.formula, here.equipment, dry_run=args.dry_run) for one in batches
            ]
            return rendered(made, args)

        made, report = write_planned(order, sheets)
        emit(report, args)
        sys.stdout.flush()
        for one in made if not args.dry_run else ():
            print(f"wrote {target.place.shown(one.path)}", file=sys.stderr)
    if not args.dry_run:
        workspace_args.say_arming(target.place)
    return OK


def _refused(stopping: Sequence[Finding], target: recipe_args.Target, args: argparse.Namespace) -> int:
    """Say what forbids the batch in the format that was asked for; a file for the sheet is not written."""
    from formula_vcs.reports.weigh_sheet.refused import rendered as refusal

    aside = args.output not in (None, "-")
    form = "text" if aside and args.format != "json" else args.format
    shown = [replace(one, shown=target.shown(one.file)) for one in stopping]
    report = refusal(shown, target.id, form)
    if isinstance(report, bytes):
        sys.stdout.buffer.write(report)
    else:
        sys.stdout.write(report)
    sys.stdout.flush()
    print(f"no batch is made: '{target.id}' does not pass", file=sys.stderr)
    return BLOCKED


def _commit(target: recipe_args.Target) -> tuple[repository.Repo, str]:
    """The repository, and the commit that the batch pins: the one that was named, else HEAD."""
    repo = target.place.repo
    if repo is None:
        raise UserError("a batch names the commit that it is made from, and this workspace is in no git repository")
    if target.commit:
        return repo, target.commit
    if target.snapshot.label == "index":
        raise UserError("what is only staged has no commit yet: commit it, then make the batch")
    if not repository.has_commits(repo):
        raise UserError("a batch names the commit that it is made from, and nothing is committed here yet")
    return repo, repository.resolve(repo, "HEAD")


def _lots(words: Sequence[str], formula: Formula, here: Snapshot, day: datetime.date) -> dict[str, str]:
    """Read INGREDIENT=LOT; a lot that may not be used on the day is refused.

    :raises UserError: the ingredient is none of the recipe's, the lot is none of the ingredient's, or is not free.
    """
    lots: dict[str, str] = {}
    for word in words:
        ingredient, equals, lot = (part.strip() for part in word.partition("="))
        if not equals or not ingredient or not lot:
            raise UserError(f"--lot: '{word}' is no INGREDIENT=LOT")
        if ingredient not in formula.ingredients:
            near = nearest(ingredient, formula.ingredients)
            raise UserError(f"--lot: '{formula.recipe.id}' holds no '{ingredient}'{near}")
        if ingredient in lots:
            raise UserError(f"--lot: '{ingredient}' is named twice; several lots of one charge are recorded later")
        trouble = lot_trouble(ingredient, lot, formula, here, day)
        if trouble:
            raise UserError(f"--lot: {trouble}")
        lots[ingredient] = lot
    return lots


def _size(args: argparse.Namespace, formula: Formula) -> tuple[int | None, Fraction]:
    """The packs, where they were asked for, and the batch in kg."""
    if (args.size is None) == (args.packs is None):
        raise UserError('a batch needs --size, like "25 kg", or --packs, like 2400: one of them')
    if args.size is not None:
        terms = workspace_args.terms(None, args.size, option="--size")
        assert terms.batch is not None  # noqa: S101 - --size was given
        return None, terms.batch.base
    packs = _count(args.packs)
    out = _share(args.out, "--yield")
    if out is not None and not 0 < out <= 1:
        raise UserError(f"--yield: '{args.out}' cannot be: it lies over 0 % and at 100 % at most")
    return packs, size_for_packs(formula, packs, _share(args.overfill, "--overfill"), out)


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 0 < int(text[:12]) < _MOST_PACKS:
        raise UserError(f"--packs: '{text}' is no number of packs")
    return int(text)


def _share(text: str | None, option: str) -> Fraction | None:
    return None if text is None else workspace_args.quantity(text, "share", option).base
