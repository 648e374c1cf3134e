"""A batch to be made: what is asked for, the plan of it and of the premixes it needs, and the files of both."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, Final, TypeVar

from formula_vcs.batches.pack_fill import batch_for
from formula_vcs.batches.plan import Plan, StepTarget, advice, fillings, plan, premixes, set_points
from formula_vcs.errors import UserError
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.density import pack_mass
from formula_vcs.figures.pack_cost import filling
from formula_vcs.figures.weighing import WeighingBalance, WeighLine, balance_of, mass_text
from formula_vcs.model.approval import RoleStanding
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.toml.atomic import alone, write_new
from formula_vcs.toml.batch_edit import batch_text
from formula_vcs.toml.takers import ID, NAME_LIMIT
from formula_vcs.workspace.snapshot import Snapshot

Report = TypeVar("Report")
_MOST: Final = 1000
_TRIES: Final = 50


@dataclass(frozen=True)
class BatchOrder:
    """What a batch is made of and on.

    ``size`` in kg; ``packs`` where the size follows from them; ``overfill`` and ``out`` as they were typed, checked.
    ``commit`` is the version that it is made from, ``lots`` a lot by ingredient, ``lacking`` who has not approved.
    Its files go into ``root``; nothing is written for a ``dry_run``.
    """

    root: Path
    here: Snapshot
    formula: Formula
    commit: str
    day: datetime.date
    size: Fraction
    machines: tuple[Equipment, ...]
    balances: tuple[WeighingBalance, ...]
    lots: dict[str, str]
    lacking: tuple[RoleStanding, ...] = ()
    packs: int | None = None
    overfill: str | None = None
    out: str | None = None
    by: str | None = None
    id: str | None = None
    without: tuple[str, ...] = ()
    dry_run: bool = False


@dataclass(frozen=True)
class NewBatch:
    """A batch ready to be written: its id, its path in the workspace, the text, and what its sheet needs besides."""

    id: str
    path: str
    text: str
    formula: Formula


def balances_of(here: Snapshot, machines: Sequence[Equipment]) -> tuple[WeighingBalance, ...]:
    """The balances among the machines that were named, else all of the workspace.

    :raises UserError: one that was named states no readability.
    """
    named = [machine for machine in machines if machine.kind == "balance"]
    known = named or [machine for name in here.ids("equipment") if (machine := here.equipment(name)) is not None]
    for machine in named:
        if balance_of(machine) is None:
            raise UserError(f"balance '{machine.id}' states no readability: what is weighed on it cannot be rounded")
    return tuple(balance for machine in known if (balance := balance_of(machine)) is not None)


def size_for_packs(formula: Formula, packs: int, overfill: Fraction | None, out: Fraction | None) -> Fraction:
    """The batch, in kg, that fills so many packs; shares that are None are the recipe's.

    :raises UserError: the recipe states no pack, or no density is known to turn its volume into a mass.
    """
    pack = formula.recipe.pack
    if pack is None:
        raise UserError(f"--packs: '{formula.recipe.id}' states no pack")
    weighed = pack_mass(Breakdown(formula), pack)
    if weighed.mass is None:
        raise UserError(f"--packs: no density to turn {pack} into a mass: {'; '.join(weighed.missing)}")
    return batch_for(packs, weighed.mass, *filling(formula, overfill, out))


def write_planned(order: BatchOrder, render: Callable[[Sequence[NewBatch]], Report]) -> tuple[list[NewBatch], Report]:
    """Plan a batch, render its sheets and, but for a dry run, write its files.

    An id that was chosen here and taken by another meanwhile is chosen again.

    :raises UserError: it cannot be planned, rendered or written.
    """
    for _ in range(_TRIES):
        made = list(planned(order))
        report = render(made)  # first, as a PDF may not be to be had
        if order.dry_run:
            return made, report
        try:
            write_all(order.root, made)
        except IdTaken:
            if order.id is not None:
                raise
        else:
            return made, report
    raise IdTaken("others make batches of this recipe at the same moment; try again")


def planned(order: BatchOrder) -> Iterator[NewBatch]:
    """Plan the product and the premixes that it needs, each with its id and the text of its file."""
    open_charges = Breakdown(order.formula).composition.unknown
    if open_charges:
        names = ", ".join(charge.key for charge in open_charges)
        raise UserError(f"no batch can be made while an amount is open: {names}")
    found = plan(order.formula, order.size, order.balances, at_least=order.packs is not None)
    if isinstance(found, list):
        raise UserError(advice(found, order.size, order.formula.recipe.id))
    if order.dry_run and order.id is None:
        # the id of a batch to come would stand on two papers: on this one, and on the one that is made of it
        identity = f"dry-run-{order.formula.recipe.id}"
    else:
        identity = free_id(order.id, order.formula.recipe.id, order.day, order.root, order.here)
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


def _made(order: BatchOrder, found: Plan, identity: str, lots: dict[str, str]) -> NewBatch:
    points = set_points(found.formula, found.weighing.size, _mixers(order, found))
    charges: dict[str, dict[str, dict[str, Any]]] = {}
    for charge in found.recipe.charges:
        mine = [line for line in found.weighing.lines if line.key == charge.key]
        if mine:
            charges.setdefault(charge.phase, {})[charge.ingredient] = _charge(mine, lots.get(charge.ingredient))
    steps = [_step(name, at) for name, at in points.items()]
    text = batch_text(_header(order, found, points), charges, steps, found.recipe.spec_lines)
    return NewBatch(identity, f"batches/{identity}.toml", text, found.formula)


def _mixers(order: BatchOrder, found: Plan) -> list[Equipment]:
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


def _header(order: BatchOrder, found: Plan, points: dict[str, StepTarget]) -> dict[str, Any]:
    header: dict[str, Any] = {
        "recipe": found.recipe.id,
        "commit": order.commit,
        "hash": content_hash(found.recipe, found.formula.premixes),
        "size": mass_text(found.weighing.size),
        "date": order.day,
    }
    if order.lacking:
        header["unapproved"] = ", ".join(role.role for role in order.lacking)
    if order.by:
        header["made_by"] = order.by
    product = found.needed is None
    used = [point.values["mixer"] for point in points.values() if "mixer" in point.values]
    named = [machine.id for machine in order.machines] if product else []
    if named or used:
        header["equipment"] = list(dict.fromkeys([*named, *used]))
    if product and order.without:
        header["without_claims"] = list(dict.fromkeys(order.without))
    if product and found.recipe.pack is not None:
        header["pack"] = str(found.recipe.pack)
        header |= {"planned_packs": order.packs} if order.packs is not None else {}
        header |= {"overfill": order.overfill} if order.overfill else {}
        header |= {"yield": order.out} if order.out else {}
    notes = list(_notes(order, found))
    return header | ({"note": "\n".join(notes)} if notes else {})


def _notes(order: BatchOrder, found: Plan) -> Iterator[str]:
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
    for claim in order.without if found.needed is None else ():
        yield f"made without the claim '{claim}': it still needs facts"


class IdTaken(UserError):
    """The id of a new batch, free when it was chosen, is somebody else's by now; nothing was written."""


def free_id(asked: str | None, recipe: str, day: datetime.date, root: Path, here: Snapshot) -> str:
    """Give the id that was asked for, or the recipe, the day and the first free number.

    :raises UserError: the id is no id, or is taken.
    """
    taken = here.ids("batches")
    if asked is not None:
        if not ID.fullmatch(asked) or len(asked) > NAME_LIMIT:
            raise UserError(f"--id: '{asked}' is no id; lower case letters, digits and hyphens make one")
        if asked in taken or _exists(root, asked):
            raise UserError(f"--id: a batch '{asked}' is there already; a batch is never written over")
        return asked
    stem = f"{recipe}-{day:%Y%m%d}"
    names = (f"{stem}-{number}" for number in range(1, _MOST))
    free = next((name for name in names if name not in taken and not _exists(root, name)), None)
    if free is None:
        raise UserError(f"{_MOST - 1} batches of '{recipe}' are made on {day} already; name this one with --id")
    return free


def _exists(root: Path, name: str) -> bool:
    return os.path.lexists(root / "batches" / f"{name}.toml")


def write_all(root: Path, made: Sequence[NewBatch]) -> None:
    """Write new files: each is there whole or not at all, and one that is there already is left alone.

    Premixes are written before what takes them, so that no batch names one that is not there.

    :raises IdTaken: a file is there.
    :raises UserError: the folder cannot be written.
    """
    folder = root / "batches"
    if folder.is_symlink():
        raise UserError("'batches' is a link; links to folders are not followed")
    try:
        folder.mkdir(exist_ok=True)
        with alone(folder):
            # all are looked for before one is written: a premix alone would be a batch that nobody made
            for one in made:
                if os.path.lexists(root / one.path):
                    raise IdTaken(f"'{one.path}' is there already; a batch is never written over")
            for one in reversed(made):
                write_new(root / one.path, one.text.encode("utf-8"))
    except FileExistsError:
        raise IdTaken("the batch came to be while this one was written; it was left alone") from None
    except OSError as error:
        raise UserError(f"'batches' cannot be written: {error.strerror}") from None
