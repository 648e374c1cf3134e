"""What a changed recipe is to reach, and what it has to go on keeping."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.errors import UserError
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.figures.origin import water_share
from formula_vcs.law.compliance import compliance_of, in_force
from formula_vcs.law.identity import law_key
from formula_vcs.law.limit_use import uses
from formula_vcs.model.formula import Formula
from formula_vcs.rules.amounts.total_100 import adjusting_reserve
from formula_vcs.rules.rule import Case
from formula_vcs.toml.takers import nearest
from formula_vcs.units.unit_reading import QuantityError, read_quantity
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import exact_text, shown
from formula_vcs.words.quoting import quoted

# --- What a changed recipe is to reach: a figure, the cost, a material or a substance, at least or at most a number


_WORDS: Final = late_pattern(
    r"\s*(?P<what>.+?)\s+at\s+(?P<side>least|most)\s+(?P<number>.+?)\s*(?P<dry>without water)?\s*"
)
_COST: Final = "cost_per_kg"
PASSES: Final = "passes"


class WantedTarget(NamedTuple):
    """What is asked: the words, what is measured (its name in reports and its unit), and on which side of what.

    ``value`` gives the measured number of a formula, or the facts that are missing for it; ``weight`` is what that
    difference is taken times, so that it is a sum over the charges: 1 but where something is counted without water.
    """

    words: str
    name: str
    unit: str
    least: bool
    number: Fraction
    value: Callable[[Formula], Fraction | tuple[str, ...]]
    weight: Callable[[Formula], Fraction]

    def left(self, formula: Formula) -> Fraction | tuple[str, ...]:
        """Give what is left above the target, below 0 what is missing to it; facts that are missing, by name."""
        value = self.value(formula)
        if isinstance(value, tuple):
            return value
        return (value - self.number if self.least else self.number - value) * self.weight(formula)


def read_target(text: str, formula: Formula, terms: Terms) -> WantedTarget:
    """Read a target: ``natural-origin at least 98 %``, ``cost at most 2.00 EUR/kg``, ``glycerin at least 3 %``.

    :raises UserError: it is none, or names nothing that this recipe has.
    """
    match = _WORDS.fullmatch(text)
    if match is None:
        raise UserError(
            f"--target {quoted(text)}: write it like 'natural-origin at least 98 %', 'cost at most 2.00 EUR/kg'"
        )
    what, least, dry = match["what"], match["side"] == "least", bool(match["dry"])
    name = what.replace("-", "_").replace(" ", "_").lower() + ("_without_water" if dry else "")
    name = _COST if name in ("cost", "price") else name
    words = " ".join(text.split())
    if name == _COST:
        number, unit = _price(text, match["number"], formula)
        return WantedTarget(words, name, unit, least, number, _figure(_COST, terms), _whole)
    if name in FIGURES:
        unit = FIGURES[name](breakdown_of(formula), terms).unit
        number = _number(text, match["number"], unit)
        return WantedTarget(
            words, name, unit, least, number, _figure(name, terms), _dry if "without_water" in name else _whole
        )
    number = _number(text, match["number"], "%")
    if dry:
        raise UserError(f"--target {quoted(text)}: only figures are counted without water")
    if what in formula.ingredients:
        return WantedTarget(words, what, "%", least, number, lambda found: _leaf(found, what), _whole)
    key = law_key(what)
    if key in compliance_of(breakdown_of(formula)).totals:
        return WantedTarget(words, what, "%", least, number, lambda found: _substance(found, key), _whole)
    hint = nearest(name, FIGURES) or nearest(what, formula.ingredients)
    raise UserError(f"--target {quoted(text)}: '{what}' is no figure, and nothing in this recipe is called so{hint}")


def _figure(name: str, terms: Terms) -> Callable[[Formula], Fraction | tuple[str, ...]]:
    def value(formula: Formula) -> Fraction | tuple[str, ...]:
        found = FIGURES[name](breakdown_of(formula), terms)
        return found.value if found.value is not None else found.missing or ("it is not known",)

    return value


def _whole(_: Formula) -> Fraction:
    return Fraction(1)


def _dry(formula: Formula) -> Fraction:
    """Give the share that is not formulation water: times this, what is counted without it is a plain sum."""
    return 1 - water_share(breakdown_of(formula))


def _leaf(formula: Formula, name: str) -> Fraction:
    """Give a material's share, wherever it comes in; a premix counts as it is charged."""
    sums = breakdown_of(formula)
    return sums.leaves[name] * 100 if name in sums.leaves else sums.composition.by_ingredient().get(name, Fraction(0))


def _substance(formula: Formula, key: str) -> Fraction:
    found = compliance_of(breakdown_of(formula)).totals.get(key)
    return Fraction(0) if found is None else found.pct


def _number(text: str, number: str, unit: str) -> Fraction:
    typed = number.removesuffix("%").strip() if unit == "%" else number.removesuffix(unit).strip()
    if re.fullmatch(r"\d{1,12}(\.\d{1,12})?", typed) is None:
        raise UserError(f"--target {quoted(text)}: {quoted(number)} is no number in {unit or 'plain figures'}")
    value = Fraction(typed)
    if unit == "%" and value > 100:
        raise UserError(f"--target {quoted(text)}: {typed} % is more than all there is")
    return value


def _price(text: str, number: str, formula: Formula) -> tuple[Fraction, str]:
    currency = formula.workspace.currency or ""
    try:
        price = read_quantity(number, "price")
    except QuantityError as bad:
        hint = f"; a cost is like '2.00 {currency or 'EUR'}/kg'"
        raise UserError(f"--target {quoted(text)}: {bad.message}{hint}") from None
    if currency and price.currency != currency:
        raise UserError(
            f"--target {quoted(text)}: costs are in {currency} here (workspace.toml), not in {price.currency}"
        )
    return price.base, f"{price.currency}/kg"


def said(target: WantedTarget, value: Fraction) -> str:
    """Write the value of a target so that it never reads as on the other side of its number."""
    for places in range(2, 10):
        text = shown(value, places, places)
        if (Fraction(text) < target.number) == (value < target.number) and (Fraction(text) > target.number) == (
            value > target.number
        ):
            return f"{text} {target.unit}".rstrip()
    return f"{exact_text(value)} {target.unit}".rstrip()


# --- What a changed recipe has to go on keeping, as plain sums over its charges: limits, bounds, the balance, claims


def kept(case: Case) -> dict[str, Fraction]:
    """Give what is left of each thing that is to be kept, by a name that no number moves; below 0 where it is broken.

    Only what is a sum over amounts (some of it between kinks) can be looked for ahead; all else is judged afterwards.
    """
    return {**dict(_bounds(case)), **dict(_limits(case)), **dict(_claims(case))}


def _bounds(case: Case) -> Iterator[tuple[str, Fraction]]:
    reserve = adjusting_reserve(case)
    composition = case.sums.composition
    left = composition.residue
    if left is not None:
        # something has to be left: at least one unit of the last decimal that is written
        yield "the balance", left - reserve - Fraction(1, (left - reserve).denominator)
    for line in composition.lines:
        least, most = (line.charge.more.get(end) for end in ("at_least", "at_most"))
        if isinstance(least, Decimal):
            yield f"{line.charge.key} at least", line.pct - (reserve if line.charge.balance else 0) - Fraction(least)
        if isinstance(most, Decimal):
            yield f"{line.charge.key} at most", Fraction(most) - line.pct


def _limits(case: Case) -> Iterator[tuple[str, Fraction]]:
    found = case.finished
    if found is None:
        return
    for use in uses(found, in_force(found, case.day)):
        if use.row.severity == "block":
            most = max(use.amount.used + use.amount.doubt, use.amount.adjusted)
            yield f"{use.row.id}/{'/'.join(use.keys)}", use.allowed - most


def _claims(case: Case) -> Iterator[tuple[str, Fraction]]:
    if case.recipe.is_premix or not case.recipe.names["claims"]:
        return
    water = 1 - water_share(case.sums)
    for claim in case.claims:
        if claim.verdict == "needs information":
            continue
        for place, mark in enumerate(claim.marks):
            left = mark.value.low - mark.limit if mark.least else mark.limit - mark.value.high
            # what is counted without water is a sum only when it is taken times what is not water
            yield f"{claim.claim} {place}", left * (water if claim.claim.endswith("without water") else 1)
