"""What a changed recipe has to go on keeping, as plain sums over its charges: limits, bounds, the balance, claims."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from formula_vcs.figures.origin import water_share
from formula_vcs.law.compliance import in_force
from formula_vcs.law.limit_use import uses
from formula_vcs.rules.amounts.balance_left import adjusting_reserve
from formula_vcs.rules.rule import Case


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
