"""How much of a limit a recipe uses: nominally, with every adjustment made, and at the worst weighing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.composition import HUNDRED, ChargeShare
from formula_vcs.figures.tolerance import PRACTICE, Tolerance
from formula_vcs.law.compliance import ApplicableRow, Compliance
from formula_vcs.law.packs_in_force import factor
from formula_vcs.model.law_row import LawRow
from formula_vcs.model.values import dataclass, replace
from formula_vcs.words.numbers import shown

ON: Final = "on the limit"
PRACTICE_TOLERANCE: Final = f"weighing tolerances of {PRACTICE}, which the weigh sheet allows"


@dataclass(frozen=True, slots=True)
class CountedAmount:
    """An amount of some substances in % w/w of the product, counted as a basis.

    ``doubt`` is what the atomic weights leave open either way.  ``adjusted`` has the charges kept for adjusting at
    the amounts that bring most, the balance giving way; ``worst`` has every charge at the far end of its weighing
    tolerance, ``stated`` only those whose tolerance some file states: the others' is common practice.  ``unknown``
    names substances whose share of the basis nobody can know here.  Where compositions are stated as ranges all are at
    their upper ends, and ``least`` is the amount at the lower ones.
    """

    used: Fraction
    doubt: Fraction
    adjusted: Fraction
    worst: Fraction
    stated: Fraction
    unknown: tuple[str, ...] = ()
    least: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class LimitUse:
    """A limit that a recipe is under, with what it uses of it; ``allowed`` is of the product before it is mixed."""

    row: LawRow
    keys: tuple[str, ...]
    amount: CountedAmount
    allowed: Fraction

    @property
    def left(self) -> Fraction:
        """How far the limit is away, negative above it."""
        return self.allowed - self.amount.used

    @property
    def state(self) -> str:
        """Say where the amount stands: over, on the limit, or inside."""
        amount = self.amount
        if amount.used - amount.doubt > self.allowed:
            return "over"
        if amount.doubt and amount.used + amount.doubt > self.allowed:
            return ON
        return "inside"


def uses(found: Compliance, hits: list[ApplicableRow]) -> Iterator[LimitUse]:
    """Every limit that the recipe is under: each substance by itself, or all of a row together."""
    for hit in hits:
        row = hit.row
        if row.at_most is None or row.kind not in ("limit", "sum") or row.per_pack:
            continue
        for keys in [[key] for key in hit.keys] if row.kind == "limit" else [hit.keys]:
            yield LimitUse(row, tuple(keys), amount(found, keys, row.basis), row.at_most / found.share_of(row))


def amount(found: Compliance, keys: list[str], basis: str) -> CountedAmount:
    """Add up some substances as a basis."""
    factors = {key: factor(found.registered(key), basis) for key in keys}
    unknown = tuple(found.spelled(key) for key, known in factors.items() if known is None)
    used = doubt = least = Fraction(0)
    for key, known in factors.items():
        if known is not None:
            used += found.totals[key].most * known.value
            least += found.totals[key].least * known.value
            doubt += found.totals[key].most * known.doubt

    def strength(ingredient: str) -> Fraction:
        content = found.content(ingredient)
        return (
            sum(
                (
                    content[key].most * known.value
                    for key, known in factors.items()
                    if known is not None and key in content
                ),
                Fraction(0),
            )
            / HUNDRED
        )

    return weighed(found, CountedAmount(used, doubt, used, used, used, unknown, least), strength)


def weighed(found: Compliance, nominal: CountedAmount, strength: Callable[[str], Fraction]) -> CountedAmount:
    """An amount with what adjusting and weighing can add to it.

    ``strength`` gives the share (0 to 1) of an ingredient, a premix among them, that counts.
    """
    lines, used = found.sums.composition.lines, nominal.used
    balance = next((strength(line.charge.ingredient) for line in lines if line.charge.balance), Fraction(0))
    extra = sum((_adjustable(line, strength, balance) for line in lines), Fraction(0))
    swing = [
        (found.tolerance(line.charge), line.pct * (strength(line.charge.ingredient) - balance))
        for line in lines
        if not line.charge.balance
    ]
    stated = used + _swing((allowed, part) for allowed, part in swing if allowed.stated)
    return replace(nominal, adjusted=used + extra, worst=used + _swing(swing), stated=stated)


def _swing(parts: Iterable[tuple[Tolerance, Fraction]]) -> Fraction:
    """How far all charges together can move an amount inside their tolerances, each to the side that adds."""
    return sum((abs(allowed.share * part) for allowed, part in parts), Fraction(0))


def _adjustable(line: ChargeShare, strength: Callable[[str], Fraction], balance: Fraction) -> Fraction:
    most = line.charge.more.get("at_most")
    if "for" not in line.charge.more or not isinstance(most, Decimal):
        return Fraction(0)
    more = Fraction(most) - line.pct
    return max(more * (strength(line.charge.ingredient) - balance), Fraction(0)) if more > 0 else Fraction(0)


def percent(value: Fraction, against: Fraction | None = None) -> str:
    """Write a share of the product so that it never reads as on the other side of what it is held against."""
    places = 2
    while places < 9:
        text = shown(value, places, max(4, places))
        rounded = Fraction(text)
        small = value and abs(rounded - value) > abs(value) / 2000
        crossed = against is not None and (
            (rounded > against) != (value > against) or (rounded < against) != (value < against)
        )
        if not small and not crossed:
            return f"{text} %"
        places += 1
    return f"{shown(value, 2, 9)} %"
