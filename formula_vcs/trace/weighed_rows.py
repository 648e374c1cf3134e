"""What was weighed into two batches, and the differences that it makes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.composition import HUNDRED
from formula_vcs.figures.tolerance import mistaken_unit
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.compare_measurements import digit
from formula_vcs.trace.difference import ITSELF, Difference, TraceContext, graded, sign
from formula_vcs.words.numbers import shown, signed

# --- Part three of a trace, the charges: what was weighed against what was to be weighed, in both batches


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


# --- The charges that differ between two batches: asked otherwise, weighed otherwise, or in one batch only


_ALIKE: Final = Fraction(1, 1000)  # shares nearer than this are one: what follows from others moves that little


def of_charges(view: TraceContext, rows: Iterable[ChargePair]) -> Iterator[Difference]:
    """Give the charges that differ: asked otherwise, weighed otherwise, or in one batch only."""
    for row in rows:
        if any(side.slip for side in row.sides):
            continue
        found = _one_sided(view, row) if row.old is None or row.new is None else _charge(view, row.old, row.new)
        if found is not None:
            yield found


def _one_sided(view: TraceContext, row: ChargePair) -> Difference | None:
    side = row.new or row.old
    assert side is not None  # noqa: S101 - a row has a side
    taken = side.share if side.share is not None else side.asked
    other = view.old if row.old is None else view.new
    if not taken or (other.formula is None and not other.charges):
        return None
    if view.same_in_all(side.ingredient):  # it came into a premix, or out of one
        view.put_aside += 1
        return None
    words = f"{shown(taken)} %"
    by, undone = view.by(f"phase/{side.key.replace('/', '/charge/', 1)}")
    return Difference(
        "recipe", (), "amount", _place(side.key), "", None if row.old is None else words,
        None if row.new is None else words, 1 if row.old is None else -1, Fraction(1), ITSELF,
        "large" if side.share is not None else "asked", view.functions(side.ingredient), form=view.form, by=by,
        undone=undone,
    )  # fmt: skip


def _charge(view: TraceContext, old: WeighedCharge, new: WeighedCharge) -> Difference | None:
    asked = _relative(old.asked, new.asked)
    moved = asked is not None and abs(asked) > max(_ALIKE, old.doubt + new.doubt)
    follows = old.balance and new.balance
    if follows or not moved:
        return _weighed(view, old, new)
    if old.ingredient == new.ingredient and view.same_in_all(new.ingredient):
        view.put_aside += 1
        return _weighed(view, old, new)
    recorded = old.share is not None and new.share is not None
    size = _relative(old.share, new.share) if recorded else asked
    way = sign(size)
    if size is None or not way:
        return None
    by, undone = view.by(f"phase/{old.key.replace('/', '/charge/', 1)}", f"phase/{new.key.replace('/', '/charge/', 1)}")
    notes = [f"weighed {_percent(old.share)} and {_percent(new.share)} of the batch"] if recorded else []
    return Difference(
        "recipe", (), "amount", _place(new.key), "", _percent(old.asked), _percent(new.asked), way, size, ITSELF,
        graded("amount", size, ITSELF, way, recorded=recorded), view.functions(new.ingredient), form=view.form,
        by=by, undone=undone, notes=tuple(notes),
    )  # fmt: skip


def _weighed(view: TraceContext, old: WeighedCharge, new: WeighedCharge) -> Difference | None:
    if old.deviation is None or new.deviation is None or old.deviation == new.deviation:
        return None
    if not (old.off or new.off):
        view.put_aside += 1
        return None
    size = (1 + new.deviation) / (1 + old.deviation) - 1 if old.deviation > -1 else Fraction(-1)
    words = [f"{signed(100 * (side.deviation or Fraction(0)), 1, 2)} % of target" for side in (old, new)]
    outside = [batch.batch.id for batch, side in ((view.old, old), (view.new, new)) if side.outside]
    notes = (f"beyond the tolerance of {shown(100 * new.tolerance, 0, 2)} % in {' and '.join(outside)}",)
    way = sign(size)
    return Difference(
        "making", (), "amount", _place(new.key), "", words[0], words[1], way, size, ITSELF,
        graded("amount", size, ITSELF, way, recorded=True), view.functions(new.ingredient), form=view.form,
        notes=notes if outside else (),
    )  # fmt: skip


def _place(key: str) -> str:
    phase, _, ingredient = key.partition("/")
    return f"{ingredient} ({phase})"


def _percent(value: Fraction | None) -> str | None:
    return None if value is None else f"{shown(value, 2, 4)} %"


def _relative(old: Fraction | None, new: Fraction | None) -> Fraction | None:
    return None if not old or new is None else (new - old) / old
