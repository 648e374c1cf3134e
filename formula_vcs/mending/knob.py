"""A number of a recipe that can be turned: the amount of a charge, the end of a range, the batch size.

Nothing is said by a hint alone; whatever it leads to is judged by the rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.figures.density import pack_mass
from formula_vcs.law.compliance import in_force
from formula_vcs.law.limit_use import amount, uses
from formula_vcs.law.otc_drug import actives
from formula_vcs.model.amount import Amount
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import Charge, Recipe
from formula_vcs.model.values import dataclass, replace
from formula_vcs.rules.amounts.total_100 import adjusting_reserve
from formula_vcs.rules.rule import Case
from formula_vcs.units.unit_reading import read_quantity

# --- A number of a recipe that can be turned: the amount of a charge, the end of a range, the batch size


HUNDREDTH: Final = Fraction(1, 100)
_WHOLE_FROM: Final = 20  # from here on numbers of steps are turned in ones: 72 degC, 3200 rpm
_MOST_PH: Final = Fraction(14)
_MOST_DIGITS: Final = 9  # of a number that is turned: what is longer is no number of a plant


@dataclass(frozen=True, slots=True)
class Knob:
    """One number of a recipe: ``path`` of the fact, and which ``end`` of it ("amount", "low", "high", "one", "size").

    ``value`` is what stands there now, in ``unit``; it is turned to whole multiples of ``step`` between ``least`` and
    ``most``.  ``rest`` is the charge that takes what an amount leaves, None where none does.
    """

    path: Path
    end: str
    value: Fraction
    step: Fraction
    least: Fraction
    most: Fraction
    unit: str
    name: str
    rest: Charge | None = None

    def at(self, place: int) -> Fraction:
        """Give the number at a place of the grid."""
        return place * self.step


def amount_knobs(formula: Formula) -> Iterator[Knob]:
    """Give the amounts of a recipe in percent or parts that are numbers, in the order of the file.

    In percent the balance takes the rest; without one it is the largest other charge.
    """
    recipe = formula.recipe
    if recipe.amounts not in ("percent", "parts"):
        return
    written = [charge for charge in recipe.charges if charge.amount is not None and charge.amount.kind == "percent"]
    if recipe.amounts == "parts":
        written = [charge for charge in recipe.charges if charge.amount is not None and charge.amount.kind == "parts"]
    balance = next((charge for charge in recipe.charges if charge.balance), None)
    largest = sorted(written, key=_value, reverse=True)[:2] if balance is None and recipe.amounts != "parts" else []
    for charge in written:
        value = _value(charge)
        if _long(value):
            continue
        rest = next((one for one in largest if one is not charge), balance)
        unit = "%" if recipe.amounts == "percent" else "parts"
        most = Fraction(100) if unit == "%" else max(value, Fraction(1)) * 100
        yield Knob(charge.path, "amount", value, HUNDREDTH, Fraction(0), most, unit, called(charge), rest)


def called(charge: Charge) -> str:
    """Name a charge with its phase."""
    return f"{charge.ingredient} ({charge.phase})"


def _value(charge: Charge) -> Fraction:
    return Fraction(charge.amount.value) if charge.amount is not None else Fraction(0)


def _long(value: Fraction) -> bool:
    return value >= 10**_MOST_DIGITS or value.denominator > 10**_MOST_DIGITS


def range_knobs(recipe: Recipe, path: Path) -> Iterator[Knob]:
    """Give the ends of a range that a recipe states, the upper one first; nothing where there is none.

    An end is turned towards the other one only: what is wrong with a range is how far it reaches.
    """
    value = recipe.facts.get(path)
    if isinstance(value, Quantity):
        yield from _knob(path, "size", value)
    if not isinstance(value, Range):
        return
    if value.single and value.low is not None:
        yield from _knob(path, "one", value.low)
        return
    for end, number, other in (("high", value.high, value.low), ("low", value.low, value.high)):
        for knob in () if number is None else _knob(path, end, number):
            limit = None if other is None or other.unit != knob.unit else Fraction(other.value)
            if end == "high":
                yield replace(knob, most=knob.value, least=knob.least if limit is None else limit - knob.step)
            else:
                yield replace(knob, least=knob.value - knob.step, most=knob.most if limit is None else limit)


def _knob(path: Path, end: str, number: Quantity) -> Iterator[Knob]:
    value = Fraction(number.value)
    if value > 0 and not _long(value):
        step = Fraction(1) if value >= _WHOLE_FROM else HUNDREDTH
        most = _MOST_PH if path == ("spec", "pH") else value * 100
        yield Knob(path, end, value, step, Fraction(0), most, number.unit, _place_words(path))


def _place_words(path: Path) -> str:
    if path[0] == "step":
        return f"{path[2]} of step '{path[1]}'"
    return f"{path[1]} of the spec" if path[0] == "spec" else path[0]


def turned(formula: Formula, knob: Knob, to: Fraction) -> Formula:
    """Give a formula with one number turned, and with what takes the rest."""
    facts: dict[Path, Any] = dict(formula.recipe.facts)
    if knob.end == "amount":
        _set_amount(facts, knob.path, to)
        rest = knob.rest
        if rest is not None and not rest.balance:
            _set_amount(facts, rest.path, _value(rest) - (to - knob.value))
    else:
        facts[knob.path] = _moved(facts[knob.path], knob, to)
    return replace(formula, recipe=replace(formula.recipe, facts=facts))


def _set_amount(facts: dict[Path, Any], path: Path, to: Fraction) -> None:
    number = decimal_of(to)
    facts[path] = Amount(facts[path].kind, number, text=f"{number:f}")


def decimal_of(value: Fraction) -> Decimal:
    """Give a number that has a finite decimal as one, with two decimals where they are enough."""
    for places in range(2, 30):
        scaled = value * 10**places
        if scaled.denominator == 1:
            return Decimal(scaled.numerator).scaleb(-places)
    raise ValueError(value)


def _moved(old: Range | Quantity, knob: Knob, to: Fraction) -> Range | Quantity:
    number = read_quantity(written(knob, to))
    if isinstance(old, Quantity):
        return number
    low = number if knob.end in ("low", "one") else old.low
    high = number if knob.end in ("high", "one") else old.high
    return Range(str(Range("", low, high)), low, high)


def written(knob: Knob, to: Fraction) -> str:
    """Write a number of the knob's grid with its unit."""
    number = decimal_of(to)
    short = number if knob.end == "amount" else number.normalize()
    return f"{short:f} {knob.unit}".rstrip()


# --- How far a finding is from being gone, where its rule compares one number with another: a hint where to look


def gauge(case: Case, finding: Finding) -> Fraction | None:
    """Give what is to be overcome: above 0 where the finding stands, 0 on its edge; None where no number is compared.

    Linear in every amount, or nearly so, between the kinks of the rule.
    """
    found = GAUGES.get(finding.rule)
    return None if found is None else max(found(case, finding), default=None)


def _limit(case: Case, finding: Finding) -> Iterator[Fraction]:
    found = case.finished
    if found is None:
        return
    hits = in_force(found, case.day)
    for use in uses(found, hits):
        if finding.subject == f"{use.row.id}/{'/'.join(use.keys)}":
            yield max(use.amount.used + use.amount.doubt, use.amount.adjusted) - use.allowed
    for hit in hits:
        row = hit.row
        if not finding.subject.startswith(f"{row.id}/"):
            continue
        if row.kind == "window" and finding.subject == f"{row.id}/{'/'.join(hit.keys)}":
            yield _outside(amount(found, hit.keys, row.basis).used, row.windows)
        elif row.per_pack and row.at_most is not None and case.recipe.pack is not None:
            mass = pack_mass(case.sums, case.recipe.pack).mass
            if mass:
                yield amount(found, hit.keys, row.basis).used - row.at_most * 100 / mass
    for active in actives(found, case.day):
        if finding.subject == f"{active.row.id}/{active.key}":
            yield _outside(active.used, [row.windows[0] for row in active.rows])


def _outside(
    value: Fraction, windows: list[tuple[Fraction, Fraction]] | tuple[tuple[Fraction, Fraction], ...]
) -> Fraction:
    return min((max(low - value, value - high) for low, high in windows), default=Fraction(0))


def _margin(case: Case, finding: Finding) -> Iterator[Fraction]:
    found = case.finished
    for use in uses(found, in_force(found, case.day)) if found is not None else ():
        if finding.subject == f"{use.row.id}/{'/'.join(use.keys)}":
            yield use.amount.stated - use.allowed


def _claim(case: Case, finding: Finding) -> Iterator[Fraction]:
    for claim in case.claims:
        if claim.claim == finding.subject:
            for mark in claim.marks:
                yield mark.limit - mark.value.low if mark.least else mark.value.high - mark.limit


def _bounds(case: Case, finding: Finding) -> Iterator[Fraction]:
    for line in case.sums.composition.lines:
        for end in ("at_least", "at_most"):
            bound = line.charge.more.get(end)
            if finding.at == (*line.charge.path, end) and isinstance(bound, Decimal):
                over = line.pct - Fraction(bound)
                reserve = adjusting_reserve(case) if line.charge.balance else Fraction(0)
                yield over if end == "at_most" else reserve - over


def _left(case: Case, _finding: Finding) -> Iterator[Fraction]:
    left = case.sums.composition.residue
    if left is not None:
        yield adjusting_reserve(case) - left


def _total(case: Case, _finding: Finding) -> Iterator[Fraction]:
    yield case.sums.composition.total - 100  # below 0 too: it is to be met


GAUGES: Final[dict[str, Callable[[Case, Finding], Iterator[Fraction]]]] = {
    "limit": _limit,
    "limit-margin": _margin,
    "claim-fails": _claim,
    "bounds": _bounds,
    "balance-left": _left,
    "total": _total,
}
