"""How far a finding is from being gone, where its rule compares one number with another: a hint where to look.

Nothing is said by a hint alone; whatever it leads to is judged by the rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.density import pack_mass
from formula_vcs.law.compliance import in_force
from formula_vcs.law.limit_use import amount, uses
from formula_vcs.law.otc_drug import actives
from formula_vcs.model.finding import Finding
from formula_vcs.rules.amounts.balance_left import adjusting_reserve
from formula_vcs.rules.rule import Case


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
