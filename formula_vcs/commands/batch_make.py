"""``git formula batch RECIPE``: pin a version, settle what is weighed, write the batch files, print their sheets."""

from __future__ import annotations

import argparse
import datetime
import sys
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any, Final

from formula_vcs.batches.plan import Plan, StepTarget, advice, fillings, plan, premixes, set_points
from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.batch import machine_of
from formula_vcs.commands.batch_files import IdTaken, Made, free_id, write_all
from formula_vcs.commands.batch_gate import approval_of, gate, unapproved
from formula_vcs.commands.batch_lots import lots_of
from formula_vcs.commands.batch_sheet import emit, rendered, sheet_from_text
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.evidence.pinned_versions import Pinned, PinnedVersions
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.weighing import WeighingBalance, WeighLine, balance_of, mass_text
from formula_vcs.git import repository
from formula_vcs.model.approval import RoleStanding
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.workspace.snapshot import Snapshot


@dataclass(frozen=True)
class Order:
    """What was asked for, read and found."""

    args: argparse.Namespace
    place: workspace_args.WorkspaceRef
    here: Snapshot
    formula: Formula
    commit: str
    day: datetime.date
    machines: tuple[Equipment, ...]
    balances: tuple[WeighingBalance, ...]
    lots: dict[str, str]
    lacking: tuple[RoleStanding, ...] = ()


def run(args: argparse.Namespace) -> int:
    """Make a batch: nothing is written before everything is known to fit."""
    day = workspace_args.day(args.date) if args.date else workspace_args.terms(args.as_of).day
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot, target.place.work_tree() as here:
        recipe = readable(target)
        formula = target.snapshot.formula(recipe)
        commit = _commit(target)
        stopping = gate(formula, target, day, args.without_claim or ())
        if stopping:
            return _refused(stopping, recipe.id, args)
        with PinnedVersions(target.place.repo, target.place.folder, store=target.place.store) as pins:
            pins.know(formula, target.snapshot)
            _same(formula, pins.at(commit, recipe.id), commit)
        standing = approval_of(formula, target, commit)
        lacking = () if standing is None else tuple(standing.lacking)
        if standing is not None and lacking and standing.need.refuse:
            return _refused(unapproved(standing, target), recipe.id, args)
        machines = tuple(machine_of(here, name) for name in args.on or ())
        balances = _balances(here, machines)
        lots = lots_of(args.lot or (), formula, here, day)
        order = Order(args, target.place, here, formula, commit, day, machines, balances, lots, lacking)
        made, report = _written(order)
        emit(report, args)
        sys.stdout.flush()
        for one in made if not args.dry_run else ():
            print(f"wrote {order.place.shown(one.path)}", file=sys.stderr)
    if not args.dry_run:
        workspace_args.say_arming(target.place)
    return OK


def _written(order: Order) -> tuple[list[Made], bytes | str]:
    """Plan, report and write the batch; an id that was chosen here and taken by another meanwhile is chosen again."""
    for _ in range(_TRIES):
        made = list(_planned(order))
        report = _report(order, made)  # first, as a PDF may not be to be had
        if order.args.dry_run:
            return made, report
        try:
            write_all(order.place, made)
        except IdTaken:
            if order.args.id is not None:
                raise
        else:
            return made, report
    raise IdTaken("others make batches of this recipe at the same moment; try again")


def _refused(stopping: Sequence[Finding], recipe: str, args: argparse.Namespace) -> int:
    """Say what forbids the batch in the format that was asked for; a file for the sheet is not written."""
    from formula_vcs.reports.weigh_sheet.refused import rendered as refusal

    aside = args.output not in (None, "-")
    form = "text" if aside and args.format != "json" else args.format
    report = refusal(stopping, recipe, form)
    if isinstance(report, bytes):
        sys.stdout.buffer.write(report)
    else:
        sys.stdout.write(report)
    sys.stdout.flush()
    print(f"no batch is made: '{recipe}' does not pass", file=sys.stderr)
    return BLOCKED


def _commit(target: recipe_args.Target) -> str:
    """Give the commit that the batch pins: the one that was named, else HEAD."""
    repo = target.place.repo
    if repo is None:
        raise UserError("a batch names the commit that it is made from, and this workspace is in no git repository")
    if target.commit:
        return target.commit
    if target.snapshot.label == "index":
        raise UserError("what is only staged has no commit yet: commit it, then make the batch")
    if not repository.has_commits(repo):
        raise UserError("a batch names the commit that it is made from, and nothing is committed here yet")
    return repository.resolve(repo, "HEAD")


def _same(formula: Formula, pinned: Pinned, commit: str) -> None:
    """Refuse what is not committed: the recipe, or something that it rests on."""
    short = repository.short_id(commit)
    name = formula.recipe.id
    if pinned.formula is None:
        raise UserError(f"'{name}' is not in commit {short}: commit it, then make the batch")
    changed = [] if pinned.formula is formula else list(_changed(formula, pinned.formula))
    if changed:
        files = ", ".join(changed[:5]) + (f" and {len(changed) - 5} more" if len(changed) > 5 else "")
        raise UserError(
            f"'{name}' as it lies here is not committed: {files} differ from commit {short}. "
            "A batch names the version that it is made from: commit first, or make it with --rev HEAD"
        )


def _changed(here: Formula, there: Formula) -> Iterator[str]:
    if here.recipe != there.recipe:
        yield here.recipe.file
    kinds: Sequence[tuple[Any, Any]] = (
        (here.ingredients, there.ingredients), (here.premixes, there.premixes), (here.equipment, there.equipment),
        (here.packaging, there.packaging),
    )  # fmt: skip
    for mine, theirs in kinds:
        yield from (found.file for name, found in mine.items() if theirs.get(name) != found)
    if here.workspace.facts != there.workspace.facts:
        yield "workspace.toml or rules/"


def _balances(here: Snapshot, machines: Sequence[Equipment]) -> tuple[WeighingBalance, ...]:
    """Give the balances that were named with --on, else all of the workspace."""
    named = [machine for machine in machines if machine.kind == "balance"]
    known = named or [found for name in here.ids("equipment") if (found := here.equipment(name)) is not None]
    for machine in named:
        if balance_of(machine) is None:
            raise UserError(f"balance '{machine.id}' states no readability: what is weighed on it cannot be rounded")
    return tuple(balance for machine in known if (balance := balance_of(machine)) is not None)


# --- size


def _size(order: Order) -> Fraction:
    args = order.args
    if (args.size is None) == (args.packs is None):
        raise UserError('a batch needs --size, like "25 kg", or --packs, like 2400: one of them')
    if args.size is not None:
        terms = workspace_args.terms(None, args.size, option="--size")
        assert terms.batch is not None  # noqa: S101 - --size was given
        return terms.batch.base
    from formula_vcs.batches.pack_fill import batch_for
    from formula_vcs.figures.density import pack_mass
    from formula_vcs.figures.pack_cost import filling

    packs, pack = _count(args.packs), order.formula.recipe.pack
    if pack is None:
        raise UserError(f"--packs: '{order.formula.recipe.id}' states no pack")
    weighed = pack_mass(Breakdown(order.formula), pack)
    if weighed.mass is None:
        raise UserError(f"--packs: no density to turn {pack} into a mass: {'; '.join(weighed.missing)}")
    stated = _share(args.overfill, "--overfill"), _share(args.out, "--yield")
    if stated[1] is not None and not 0 < stated[1] <= 1:
        raise UserError(f"--yield: '{args.out}' cannot be: it lies over 0 % and at 100 % at most")
    over, out = filling(order.formula, *stated)
    return batch_for(packs, weighed.mass, over, out)


_MOST_PACKS: Final = 10**9
_TRIES: Final = 50


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 0 < int(text[:12]) < _MOST_PACKS:
        raise UserError(f"--packs: '{text}' is no number of packs")
    return int(text)


def _share(text: str | None, option: str) -> Fraction | None:
    return None if text is None else workspace_args.quantity(text, "share", option).base


# --- planning


def _planned(order: Order) -> Iterator[Made]:
    """Plan the product and the premixes that it needs, each with its id and the text of its file."""
    size = _size(order)
    open_charges = Breakdown(order.formula).composition.unknown
    if open_charges:
        names = ", ".join(charge.key for charge in open_charges)
        raise UserError(f"no batch can be made while an amount is open: {names}")
    found = plan(order.formula, size, order.balances, at_least=bool(order.args.packs))
    if isinstance(found, list):
        raise UserError(advice(found, size, order.formula.recipe.id))
    asked = order.args.id
    if order.args.dry_run and asked is None:
        # the id of a batch to come would stand on two papers: on this one, and on the one that is made of it
        identity = f"dry-run-{order.formula.recipe.id}"
    else:
        identity = free_id(asked, order.formula.recipe.id, order.day, order.place, order.here)
    inner: dict[str, Plan] = {}
    for part in premixes(found, order.balances, frozenset(order.lots)):
        if isinstance(part, tuple):
            name, refusal = part
            words = advice([refusal], refusal.mass, name)
            raise UserError(f"premix '{name}': {words}; or name a batch of it that is there: --lot {name}=BATCH")
        inner[_ingredient(order.formula, part)] = part
    lots = {**order.lots, **{name: f"{identity}-{name}" for name in inner}}
    yield _made(order, found, identity, lots)
    for name, part in inner.items():
        yield _made(order, part, lots[name], lots)


def _ingredient(formula: Formula, part: Plan) -> str:
    """Name the ingredient that a premix is in the recipe that takes it."""
    return next(name for name in formula.order if formula.ingredients[name].recipe == part.recipe.id)


def _made(order: Order, found: Plan, identity: str, lots: dict[str, str]) -> Made:
    from formula_vcs.toml.batch_text import batch_text

    points = set_points(found.formula, found.weighing.size, _mixers(order, found))
    charges: dict[str, dict[str, dict[str, Any]]] = {}
    for charge in found.recipe.charges:
        mine = [line for line in found.weighing.lines if line.key == charge.key]
        if mine:
            charges.setdefault(charge.phase, {})[charge.ingredient] = _charge(mine, lots.get(charge.ingredient))
    steps = [_step(name, at) for name, at in points.items()]
    text = batch_text(_header(order, found, points), charges, steps, found.recipe.spec_lines)
    return Made(identity, f"batches/{identity}.toml", text, found.formula)


def _mixers(order: Order, found: Plan) -> list[Equipment]:
    """Give the vessels and mixers that take over; those of the product say nothing about a premix."""
    if found.needed is not None:
        return []
    return [machine for machine in order.machines if machine.kind != "balance"]


def _charge(mine: list[WeighLine], lot: str | None) -> dict[str, Any]:
    target = sum((line.target for line in mine), Fraction(0))
    finest = min((line.balance.division for line in mine if line.balance is not None), default=None)
    row: dict[str, Any] = {"target": mass_text(target, finest)}
    if len(mine) == 1:
        return row | _weighing(mine[0], lot)
    row["lots"] = [_portion(line, lot) for line in mine]
    return row


def _portion(line: WeighLine, lot: str | None) -> dict[str, Any]:
    step = {} if line.step is None else {"step": line.step}
    division = None if line.balance is None else line.balance.division
    return step | {"target": mass_text(line.target, division)} | _weighing(line, lot)


def _weighing(line: WeighLine, lot: str | None) -> dict[str, Any]:
    on = {"balance": line.balance.id} if line.balance is not None and line.balance.id else {}
    return on if lot is None else on | {"lot": lot}


def _step(name: str, point: StepTarget) -> dict[str, Any]:
    row: dict[str, Any] = {"id": name}
    row |= {"target": dict(point.values)} if point.values else {}
    return row | ({"scaled": point.remark} if point.remark else {})


def _header(order: Order, found: Plan, points: dict[str, StepTarget]) -> dict[str, Any]:
    from formula_vcs.model.content_hash import content_hash

    args = order.args
    header: dict[str, Any] = {
        "recipe": found.recipe.id,
        "commit": order.commit,
        "hash": content_hash(found.recipe, found.formula.premixes),
        "size": mass_text(found.weighing.size),
        "date": order.day,
    }
    if order.lacking:
        header["unapproved"] = ", ".join(role.role for role in order.lacking)
    if args.by:
        header["made_by"] = args.by
    product = found.needed is None
    used = [point.values["mixer"] for point in points.values() if "mixer" in point.values]
    named = [machine.id for machine in order.machines] if product else []
    if named or used:
        header["equipment"] = list(dict.fromkeys([*named, *used]))
    if product and args.without_claim:
        header["without_claims"] = list(dict.fromkeys(args.without_claim))
    if product and found.recipe.pack is not None:
        header["pack"] = str(found.recipe.pack)
        header |= {"planned_packs": _count(args.packs)} if args.packs else {}
        header |= {"overfill": args.overfill} if args.overfill else {}
        header |= {"yield": args.out} if args.out else {}
    notes = list(_notes(order, found))
    return header | ({"note": "\n".join(notes)} if notes else {})


def _notes(order: Order, found: Plan) -> Iterator[str]:
    weighed = found.weighing
    for role in order.lacking:
        yield f"NOT APPROVED by {role.role}: {role.words}"
    if found.needed is not None and weighed.size > found.needed * Fraction(101, 100):
        yield f"{mass_text(found.needed)} of it are needed; {mass_text(weighed.size)} is the least that can be weighed"
    elif found.needed is None and weighed.size != weighed.asked:
        yield weighed.gave_way
    yield from fillings(found.formula, weighed.size, _mixers(order, found))
    if not weighed.stated:
        yield 'no balance is described (equipment/, kind = "balance"): masses are rounded without one'
    for claim in order.args.without_claim or () if found.needed is None else ():
        yield f"made without the claim '{claim}': it still needs facts"


def _report(order: Order, made: list[Made]) -> bytes | str:
    machine, dry = order.here.equipment, order.args.dry_run
    sheets = [sheet_from_text(one.id, one.text, one.formula, machine, dry_run=dry) for one in made]
    return rendered(sheets, order.args)
