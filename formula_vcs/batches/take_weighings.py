"""Weighings out of a table into a batch: which charge a row means, and what it may not overwrite."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.batches.weighings_csv import Problem, WeighingRow, read_weighings
from formula_vcs.figures.tolerance import mistaken_words
from formula_vcs.model.batch import Batch, BatchCharge, Portion
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.toml.batch_edit import facts_in, fill_in, take_out
from formula_vcs.toml.edit import EditRefused
from formula_vcs.toml.takers import nearest
from formula_vcs.words.quoting import quoted

# How near the draws of one charge come to its target in all.  Our choice.
_DRAWN: Final = Fraction(1, 20)


@dataclass(frozen=True)
class WeighingsTaken:
    """The batch's text with the weighings in it, how many went in, and what could not."""

    text: str
    count: int
    problems: tuple[Problem, ...]


class _Refused(ValueError):
    """A row that may not go in."""

    def __init__(self, row: WeighingRow, message: str) -> None:
        self.line = row.line
        super().__init__(message)


def take_in(data: bytes, text: str, formula: Formula | None, *, replace: bool) -> WeighingsTaken:
    """Write the weighings of a table into a batch's text.

    A charge of which some row has a problem is left as it is: half of it would look like all of it.
    """
    table = read_weighings(data)
    problems = list(table.problems)
    charges = {charge.key: charge for charge in Batch("", facts_in(text)).charges}
    by_charge: dict[str, list[WeighingRow]] = {}
    spoiled: set[str] = set()
    for problem in table.problems:
        spoiled.update(_meant(problem.charge, "", charges, formula)[:1] if problem.charge else ())
    for row in table.rows:
        found = _meant(row.charge, row.phase, charges, formula)
        if len(found) == 1:
            by_charge.setdefault(found[0], []).append(row)
        else:
            problems.append(Problem(row.line, _unclear(row, found, charges)))
    count = 0
    for key, rows in by_charge.items():
        if key in spoiled:
            continue
        try:
            text = _written(text, charges[key], rows, replace=replace)
            count += len(rows)
        except _Refused as error:
            problems.append(Problem(error.line, str(error)))
        except EditRefused as error:
            problems.append(Problem(rows[0].line, f"'{key}': {error}"))
    return WeighingsTaken(text, count, tuple(sorted(problems, key=lambda problem: problem.line)))


def _meant(name: str, phase: str, charges: Mapping[str, BatchCharge], formula: Formula | None) -> list[str]:
    """Give the charges that a name may mean: its key, its ingredient's id, title or supplier's code."""
    wanted = " ".join(name.split()).casefold()
    found = []
    for key, charge in charges.items():
        if phase and phase.casefold() != charge.phase.casefold():
            continue
        names = {key.casefold(), charge.ingredient.casefold()}
        ingredient = None if formula is None else formula.ingredients.get(charge.ingredient)
        if ingredient is not None:
            names |= {ingredient.title.casefold(), (ingredient.get("code") or charge.ingredient).casefold()}
        if wanted in names:
            found.append(key)
    return found


def _unclear(row: WeighingRow, found: Sequence[str], charges: Mapping[str, BatchCharge]) -> str:
    if found:
        return f"{quoted(row.charge)} may be {' or '.join(found)}; write it like that, or add a column 'phase'"
    known = [*charges, *(charge.ingredient for charge in charges.values())]
    return f"{quoted(row.charge)} is no charge of this batch{nearest(row.charge, known)}"


def _written(text: str, charge: BatchCharge, rows: list[WeighingRow], *, replace: bool) -> str:
    if charge.portions:
        return _into_portions(text, charge, rows, replace=replace)
    if len(rows) == 1:
        return _into(text, charge.path, (charge.key, charge.weighings[0]), rows[0], replace=replace)
    return _as_portions(text, charge, rows, replace=replace)


def _as_portions(text: str, charge: BatchCharge, rows: list[WeighingRow], *, replace: bool) -> str:
    """Write several rows of one charge, each from a lot of its own, as rows of ``lots``."""
    lots = [row.lot for row in rows]
    if (not all(lots) or len(set(lots)) < len(lots)) and not _draws(rows, charge):
        others = ", ".join(str(row.line) for row in rows[:-1])
        words = f"'{charge.key}' is weighed in line {others} too, from no other lot: was it weighed again, or in parts?"
        raise _Refused(rows[-1], f"{words} Leave in what counts, or write the parts into the file by hand")
    if charge.weighed is not None and not replace:
        raise _Refused(rows[0], f"'{charge.key}' is weighed already; --replace takes these in its place")
    total = sum((row.weighed.base for row in rows[1:]), rows[0].weighed.base)
    _plausible(charge.key, total, None if charge.target is None else charge.target.base, rows[-1])
    for name in ("lot", "weighed"):
        text = take_out(text, (*charge.path, name))
    parts = [{**({"lot": row.lot} if row.lot else {}), "weighed": str(row.weighed), **_extras(row)} for row in rows]
    return fill_in(text, (*charge.path, "lots"), parts)


def _draws(rows: Sequence[WeighingRow], charge: BatchCharge) -> bool:
    """Say whether rows can only be parts of one charge: together they meet its target, and none of them does alone."""
    if charge.target is None:
        return False
    target = charge.target.base
    masses = [row.weighed.base for row in rows]
    near = _DRAWN * target
    return abs(sum(masses, Fraction(0)) - target) <= near and all(target - mass > near for mass in masses)


def _into_portions(text: str, charge: BatchCharge, rows: list[WeighingRow], *, replace: bool) -> str:
    portions = list(charge.portions)
    free = [portion for portion in portions if replace or portion.weighed is None]
    for row in rows:
        named = [p for p in portions if row.step and p.step == row.step] or [
            p for p in portions if row.lot and p.lot == row.lot and not row.step
        ]
        if len(named) != 1:
            same = [p for p in portions if _matches(p, row)]
            named = same if len(same) == 1 else free if len(free) == 1 and len(rows) == 1 else []
        if len(named) != 1:
            steps = ", ".join(portion.step or portion.lot or "?" for portion in portions)
            words = f"'{charge.key}' is weighed in {len(portions)} parts ({steps}); a column 'step' or 'lot' says which"
            raise _Refused(row, words)
        text = _into(text, named[0].path, (charge.key, named[0]), row, replace=replace)
        free = [portion for portion in free if portion is not named[0]]
    return text


def _matches(portion: Portion, row: WeighingRow) -> bool:
    return portion.weighed is not None and portion.weighed == row.weighed and portion.lot in (row.lot or None, None)


def _into(text: str, path: tuple[str, ...], what: tuple[str, Portion], row: WeighingRow, *, replace: bool) -> str:
    key, portion = what
    if portion.weighed is not None and portion.weighed != row.weighed and not replace:
        words = f"'{key}' is weighed already, {portion.weighed}; --replace takes {row.weighed} in its place"
        raise _Refused(row, words)
    if row.lot and portion.lot and row.lot != portion.lot and not replace:
        raise _Refused(row, f"'{key}' is from lot '{portion.lot}', the table says '{row.lot}'; --replace takes that")
    _plausible(key, row.weighed.base, None if portion.target is None else portion.target.base, row)
    if portion.weighed != row.weighed:
        text = fill_in(text, (*path, "weighed"), str(row.weighed))
    if row.lot and row.lot != portion.lot:
        text = fill_in(text, (*path, "lot"), row.lot)
    for name, value in _extras(row).items():
        text = fill_in(text, (*path, name), value)
    return text


def _plausible(key: str, weighed: Fraction, target: Fraction | None, row: WeighingRow) -> None:
    hint = "" if target is None else mistaken_words(weighed, target)
    if hint:
        raise _Refused(row, f"'{key}': {row.weighed} is {hint}")
    if not weighed and target:
        raise _Refused(row, f"'{key}': nothing was weighed; a charge that was left out is a [[deviation]]")


def _extras(row: WeighingRow) -> dict[str, str | datetime.datetime]:
    """Give what else a row says of a weighing: when, and by whom."""
    found: dict[str, str | datetime.datetime] = {}
    try:
        moment = datetime.datetime.fromisoformat(row.at)
        if row.at.strip() and len(row.at) > len("2026-03-04"):
            found["at"] = moment
    except ValueError:
        pass  # a scale's own way to write a time; the table keeps it
    if row.by:
        found["by"] = row.by
    return found
