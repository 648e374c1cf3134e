"""Part three of a trace, the charges: what was weighed against what was to be weighed, in both batches."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from formula_vcs.figures.composition import HUNDRED
from formula_vcs.figures.tolerance import mistaken_unit
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.compare_measurements import digit


@dataclass(frozen=True, slots=True)
class WeighedCharge:
    """One charge in one batch: masses in kg, shares in % of the batch's size, each None where not known.

    ``asked`` is what the recipe asks, or by the target where its version is lost; ``doubt`` is then how much of itself
    the last digit of the target hides.  ``deviation`` is weighed against target as a share of the target, ``tolerance``
    what that may be, never less than one division of the balance; ``off`` says that a weighing is further off, and so
    does ``outside`` unless the charge is kept for adjusting, which has no target to meet.  ``slip`` says that weighed
    and target are a factor of 1,000 apart.
    """

    key: str
    ingredient: str
    asked: Fraction | None
    target: Fraction | None
    weighed: Fraction | None
    share: Fraction | None
    deviation: Fraction | None
    tolerance: Fraction
    slip: bool
    balance: bool
    off: bool
    outside: bool
    doubt: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class ChargePair:
    """One charge of both batches; a side that has none of it is None."""

    old: WeighedCharge | None
    new: WeighedCharge | None

    @property
    def key(self) -> str:
        """Name the charge as the newer batch does."""
        side = self.new or self.old
        return "" if side is None else side.key

    @property
    def ingredient(self) -> str:
        """Name the ingredient as the newer batch does."""
        side = self.new or self.old
        return "" if side is None else side.ingredient

    @property
    def sides(self) -> tuple[WeighedCharge, ...]:
        """Give the sides that are there."""
        return tuple(side for side in (self.old, self.new) if side is not None)


def weighings(side: BatchContext) -> dict[str, WeighedCharge]:
    """Give the charges of one batch, those that only the recipe has included, by key."""
    keys = dict.fromkeys((*side.shares, *side.charges))
    return {key: _weighing(side, key) for key in keys}


def _weighing(side: BatchContext, key: str) -> WeighedCharge:
    recorded, planned = side.charges.get(key), side.charge_of(key)
    size = None if side.batch.size is None else side.batch.size.base
    asked, doubt = side.shares.get(key), Fraction(0)
    stated = None if recorded is None or recorded.target is None else recorded.target.base
    target = stated if stated is not None or asked is None or size is None else asked * size / HUNDRED
    if side.formula is None and stated and size and recorded is not None and recorded.target is not None:
        asked, doubt = stated * HUNDRED / size, digit(recorded.target, "kg") / 2 / stated
    weighed = None if recorded is None else recorded.weighed
    wrong = mistaken_unit(weighed, target)
    deviation = None if not target or weighed is None or wrong else (weighed - target) / target
    share = None if weighed is None or not size or wrong else weighed * HUNDRED / size
    tolerance, off = _held(side, key, target, weighed)
    off = off and deviation is not None
    return WeighedCharge(
        key, key.partition("/")[2], asked, target, weighed, share, deviation, tolerance, wrong,
        planned is not None and planned.balance, off, off and key not in side.kept, doubt,
    )  # fmt: skip


def _held(side: BatchContext, key: str, target: Fraction | None, weighed: Fraction | None) -> tuple[Fraction, bool]:
    """Give a charge's tolerance as a share of its target, and whether some weighing of it is further off."""
    recorded, allowed = side.charges.get(key), side.tolerance(key)
    balance = None if recorded is None else recorded.balance
    share = allowed.of(target, side.division(balance)) / target if target else allowed.share
    compared = () if recorded is None else recorded.compared
    if not compared and target and weighed is not None:
        return share, abs(weighed - target) > share * target
    return share, any(
        abs(one.weighed - one.target) > allowed.of(one.target, side.division(one.balance)) for one in compared
    )


def charge_rows(old: BatchContext, new: BatchContext, swaps: Iterable[tuple[str, str]] = ()) -> tuple[ChargePair, ...]:
    """Pair the charges of two batches: by their place, then by ingredient, then the ``swaps`` (old key, new key)."""
    before, after = weighings(old), weighings(new)
    partner = {key: key for key in after if key in before}
    partner |= {now: was for was, now in swaps if was in before and now in after and now not in partner}
    free = [key for key in before if key not in partner.values()]
    for key in after:
        if key not in partner:
            match = next((name for name in free if before[name].ingredient == after[key].ingredient), None)
            if match is not None:
                partner[key] = match
                free.remove(match)
    rows = [ChargePair(before[partner[key]] if key in partner else None, found) for key, found in after.items()]
    taken = set(partner.values())
    return (*rows, *(ChargePair(found, None) for key, found in before.items() if key not in taken))
