"""Masses as a balance can show them: which balance weighs what, the least that it can weigh, and sums that stay exact.

A line is weighed on the balance of finest readability that can hold it and may weigh it, in several loads where a finer
one has to, and its target is a whole number of that balance's divisions.  The lines add up exactly to the batch: each
is rounded by itself, so that what is round stays round, and the charge that fills up takes the rest; where there is
none, or that would take it too far, ``whole_divisions`` shares the rest out.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil
from typing import Final

from formula_vcs.figures.whole_divisions import Item, add_up, common, nearest
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, replace

# USP General Chapter <41> Balances: twice the standard deviation is at most 0.10 % of the smallest net weight, and a
# standard deviation below 0.41 division is taken as 0.41 division (read in a copy of the 2019 text).  That is for
# assays: a line of a batch is judged by its own tolerance in place of 0.10 %.
USP_SHARE: Final = Fraction(1, 1000)
USP_LEAST: Final = Fraction("0.41")
# Where no balance is described, the smallest line still has so many digits.  Our choice.
_DIGITS_WITHOUT: Final = 4
_MOST_PARTS: Final = 50  # loads of the largest balance, beyond which a batch is refused


@dataclass(frozen=True, slots=True)
class WeighingBalance:
    """A balance: masses in kg.

    ``least`` is the smallest net weight that its file states, 0 where it states none, and ``spread`` the standard
    deviation of its readings, 0 where nobody states it.
    """

    id: str
    title: str
    division: Fraction
    capacity: Fraction | None = None
    least: Fraction = Fraction(0)
    spread: Fraction = Fraction(0)

    def least_for(self, tolerance: Fraction | None) -> Fraction:
        """The smallest net weight that it may weigh of what has a tolerance (a share of its target)."""
        if not self.spread or not tolerance:
            return self.least
        return max(self.least, minimum_weight(self.spread, self.division, tolerance))

    def why_least(self, tolerance: Fraction | None) -> str:
        """Say what asks for that."""
        if self.least_for(tolerance) == self.least:
            return "stated by its file"
        share = f"{float((tolerance or USP_SHARE) * 100):g} %"
        return f"twice its repeatability, {mass_text(self.spread)}, is {share} of it, the line's tolerance"

    def holds(self, mass: Fraction) -> bool:
        """Say whether it can carry a mass."""
        return self.capacity is None or mass <= self.capacity


@dataclass(frozen=True, slots=True)
class WeighLine:
    """What is weighed at once: a charge, or a part of one for one step.  ``share`` is its part of the batch, 0 to 1.

    ``tolerance`` is a share of its target, None where none is asked, and ``rest`` says that it is the charge that fills
    up.  ``target`` is the mass on the sheet in kg and ``balance`` where it is weighed, once they are settled.
    """

    key: str
    share: Fraction
    step: str | None = None
    tolerance: Fraction | None = None
    rest: bool = False
    balance: WeighingBalance | None = None
    target: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class WeighableBatch:
    """A batch that can be weighed: its lines with their targets, which add up to ``size`` (kg) exactly."""

    asked: Fraction
    size: Fraction
    lines: tuple[WeighLine, ...]
    stated: bool
    at_least: bool = False

    @property
    def divisions(self) -> list[Fraction]:
        """The divisions (kg) that it is weighed in, the coarsest first."""
        return sorted({line.balance.division for line in self.lines if line.balance is not None}, reverse=True)

    @property
    def gave_way(self) -> str:
        """Say why it has another size than was asked for; empty where it has that."""
        if self.size == self.asked:
            return ""
        asked, step = mass_text(self.asked), common(self.divisions)
        made = f"made {mass_text(self.size)}, {'the least that is enough' if self.at_least else 'the nearest'}"
        if abs(self.size - self.asked) < step:
            return f"{asked} is no multiple of {mass_text(step)}, in which it is weighed: {made}"
        steps = " and ".join(mass_text(one) for one in self.divisions)
        return f"no masses in steps of {steps}, each within a step of its share, add up to {asked}: {made}"


@dataclass(frozen=True, slots=True)
class Refusal:
    """A line that cannot be weighed: why, and the smallest batch (kg) that would do, where a bigger one helps."""

    line: WeighLine
    mass: Fraction
    why: str
    batch: Fraction | None


def minimum_weight(repeatability: Fraction, division: Fraction, share: Fraction = USP_SHARE) -> Fraction:
    """The smallest net weight, in the unit of both: twice the larger of s and 0.41 d is a share of it.

    With a share of 0.10 % it is that of USP <41>, 2000 s; with a line's tolerance in its place, that of the line.
    """
    return 2 * max(repeatability, USP_LEAST * division) / share


def balance_of(machine: Equipment) -> WeighingBalance | None:
    """Read a balance off its file; None where it is none, or states no readability."""
    division = machine.division
    if machine.kind != "balance" or not division:
        return None
    stated, spread = _base(machine, "minimum"), _base(machine, "repeatability")
    capacity = _base(machine, "capacity") or None
    return WeighingBalance(machine.id, machine.title, division, capacity, stated or Fraction(0), spread or Fraction(0))


def _base(machine: Equipment, name: str) -> Fraction | None:
    value: Quantity | None = machine.get(name, Quantity)
    return None if value is None else value.base


def choose(
    mass: Fraction, balances: Sequence[WeighingBalance], tolerance: Fraction | None = None
) -> WeighingBalance | None:
    """The balance of finest readability that can hold a mass; of two alike the one that can weigh less."""
    able = [balance for balance in balances if balance.holds(mass)]
    return min(able, key=lambda balance: (balance.division, balance.least_for(tolerance), balance.id), default=None)


def parts(line: WeighLine, mass: Fraction, balances: Sequence[WeighingBalance]) -> list[WeighLine]:
    """Split what no balance can hold at once, or may weigh of those that can, into equal loads of the largest that may.

    Of more parts than a batch may have only one too many is given: who asks refuses them, whatever their number.
    """
    whole = choose(mass, balances, line.tolerance)
    if whole is not None and mass >= whole.least_for(line.tolerance):
        return [line]
    smaller = [b for b in balances if b.capacity is not None and b.capacity < mass]
    loads = [(b.capacity, int(-(-mass // b.capacity)), b) for b in smaller if b.capacity]
    able = [(most, count) for most, count, b in loads if mass / count >= b.least_for(line.tolerance)]
    if not able:
        return [line]
    count = max(able)[1]
    return [replace(line, share=line.share / count)] * min(count, _MOST_PARTS + 1)


# A batch gives way to what can be weighed, but not so far that it is another batch.  Our choice.
_FAR: Final = Fraction(1, 10)


def weigh(
    lines: Sequence[WeighLine], size: Fraction, balances: Sequence[WeighingBalance], *, at_least: bool = False
) -> WeighableBatch | list[Refusal]:
    """Settle the targets of a batch of ``size`` kg, or say which lines cannot be weighed.

    With ``at_least`` the batch is not made smaller where it has to give way.  ``lines`` have positive shares that add
    up to 1.  Each target is within one division of the line's share of the batch that is made.
    """
    placed: list[WeighLine] = []
    refused: list[Refusal] = []
    bare = division_without(min(line.share for line in lines) * size) if not balances else Fraction(0)
    for line in lines:
        mass = line.share * size
        pieces = parts(line, mass, balances)
        if len(pieces) > _MOST_PARTS:
            words = f"it is more than {_MOST_PARTS} loads of the largest balance"
            refused.append(Refusal(line, mass, words, None))
            continue
        placed += [
            replace(
                piece, balance=choose(piece.share * size, balances, line.tolerance) or WeighingBalance("", "", bare)
            )
            for piece in pieces
        ]
    # by its own mass first: a line is not lifted to what its balance can weigh, only kept there
    alone = [replace(line, target=nearest(line.share * size, _division(line))) for line in placed]
    refused += _too_small(alone, size, balances)
    if refused:
        return refused
    made = _filled_up(placed, size, balances, at_least=at_least)
    made = made or _settled(placed, size, balances, at_least=at_least)
    total = sum((line.target for line in made or ()), Fraction(0))
    if made is None or abs(total - size) > _FAR * size:
        coarsest = max(placed, key=lambda line: (_division(line), line.share))
        near = f": the nearest that can is {mass_text(total)}" if made else ""
        words = f"with it no batch of this size is a sum of whole divisions{near}"
        return [Refusal(coarsest, coarsest.share * size, words, total if total > size else None)]
    too_small = _too_small(made, size, balances)
    if too_small:
        return too_small
    return WeighableBatch(size, total, tuple(made), bool(balances), at_least)


def _division(line: WeighLine) -> Fraction:
    assert line.balance is not None  # noqa: S101 - asked for lines that have one
    return line.balance.division


def _filled_up(
    placed: list[WeighLine], size: Fraction, balances: Sequence[WeighingBalance], *, at_least: bool
) -> list[WeighLine] | None:
    """Round every line by itself and give the rest to the charge that fills up, in two loads where one balance cannot.

    None where no charge fills up, or it would lie further from its share than its tolerance allows.
    """
    filling = max((line for line in placed if line.rest), key=lambda line: line.share, default=None)
    if filling is None:
        return None
    made = [replace(line, target=nearest(line.share * size, _division(line))) for line in placed]
    if any(not _held(line) for line in made):
        return None
    place = next(number for number, line in enumerate(placed) if line is filling)
    step = common(_division(line) for line in placed)
    whole = ceil(size / step) * step if at_least else nearest(size, step)
    left = whole - sum((line.target for number, line in enumerate(made) if number != place), Fraction(0))
    allowed = max((filling.tolerance or Fraction(0)) * filling.share * size, _division(filling))
    if left <= 0 or abs(left - filling.share * size) > allowed:
        return None
    loads = _loads(filling, left, balances)
    return None if loads is None else [*made[:place], *loads, *made[place + 1 :]]


def _loads(line: WeighLine, mass: Fraction, balances: Sequence[WeighingBalance]) -> list[WeighLine] | None:
    """Weigh a mass on a line's balance, topped up on a finer one where it is no whole number of its divisions.

    What a top-up may be off by counts against the whole, so a finer balance need only hold it, and may not be below
    what its file states.
    """
    balance = line.balance
    assert balance is not None  # noqa: S101 - asked for lines that have one
    over = mass % balance.division
    if not over:
        return [replace(line, target=mass)] if balance.holds(mass) else None
    finer = sorted((b for b in balances if b.division < balance.division), key=lambda b: (-b.division, b.id))
    for other in finer:
        top = over
        while top < other.least and top < mass:
            top += balance.division
        main = mass - top
        if top % other.division == 0 and other.holds(top) and main > 0 and balance.holds(main):
            shares = line.share * main / mass, line.share * top / mass
            return [
                replace(line, share=shares[0], target=main),
                replace(line, share=shares[1], balance=other, target=top, tolerance=None),
            ]
    return None


def _settled(
    placed: list[WeighLine], size: Fraction, balances: Sequence[WeighingBalance], *, at_least: bool
) -> list[WeighLine] | None:
    """Settle the targets; a line that comes to lie over its balance's capacity goes to the next one that holds it."""
    for _ in range(len(balances)):
        made = settle(placed, size, at_least=at_least)
        over = {id(old): new for old, new in zip(placed, made or (), strict=made is not None) if not _held(new)}
        if not over:
            return made
        placed = [
            replace(line, balance=choose(over[id(line)].target, balances, line.tolerance) or line.balance)
            if id(line) in over
            else line
            for line in placed
        ]
    return settle(placed, size, at_least=at_least)


def _held(line: WeighLine) -> bool:
    return line.balance is None or line.balance.holds(line.target)


def division_without(smallest: Fraction) -> Fraction:
    """A division for a batch without balances: a power of ten that leaves the smallest line four digits."""
    power = Fraction(1)
    while power > smallest:
        power /= 10
    while power * 10 <= smallest:
        power *= 10
    return power / Fraction(10) ** (_DIGITS_WITHOUT - 1)


def _too_small(lines: Sequence[WeighLine], size: Fraction, balances: Sequence[WeighingBalance]) -> list[Refusal]:
    """The lines whose target is nothing, or less than their balance may weigh."""
    found = []
    for line in lines:
        balance, words = line.balance, ""
        assert balance is not None  # noqa: S101 - every line has one by now
        if not line.target:
            words = f"it would round to nothing on '{balance.id}', which shows steps of {mass_text(balance.division)}"
        elif line.target < balance.least_for(line.tolerance):
            least = mass_text(balance.least_for(line.tolerance))
            words = f"'{balance.id}' weighs {least} or more ({balance.why_least(line.tolerance)})"
        if words:
            batch = smallest_batch(line.share, balances, size, line.tolerance)
            found.append(Refusal(line, line.share * size, words, batch))
    return found


def smallest_batch(
    share: Fraction, balances: Sequence[WeighingBalance], above: Fraction, tolerance: Fraction | None = None
) -> Fraction | None:
    """The smallest batch (kg), not below ``above``, in which a share can be weighed; None where none is."""
    held = Fraction(0)  # what a finer balance can still hold is weighed on that one
    for balance in sorted(balances, key=lambda b: (b.division, b.least_for(tolerance), b.id)):
        mass = max(balance.least_for(tolerance), balance.division, held, above * share)
        if balance.holds(mass) and (mass > held or not held):
            return mass / share
        held = max(held, balance.capacity or Fraction(0))
    return None


def settle(lines: Sequence[WeighLine], size: Fraction, *, at_least: bool = False) -> list[WeighLine] | None:
    """Give lines whose balance is known their targets; None where no size nearby has any (see ``whole_divisions``)."""
    items = [
        Item(line.share, b.division, b.least_for(line.tolerance), b.capacity)
        for line in lines
        if (b := line.balance) is not None
    ]
    found = add_up(items, size, at_least=at_least)
    return None if found is None else [replace(line, target=mass) for line, mass in zip(lines, found, strict=True)]


def mass_text(mass: Fraction, division: Fraction | None = None) -> str:
    """Write a mass in kg, from 1 kg, else in g, with the digits of a division where one is given.

    >>> mass_text(Fraction("1.002"), Fraction("0.005")), mass_text(Fraction("0.0375")), mass_text(Fraction(1, 3000))
    ('1.002 kg', '37.5 g', '0.333333 g')
    """
    from formula_vcs.words.numbers import rounded

    scale, unit = (1, "kg") if mass >= 1 else (1000, "g")
    value = mass * scale
    step = value if division is None else division * scale
    places = next((n for n in range(13) if (step * 10**n).denominator == 1), 6)
    return f"{rounded(value, places):f} {unit}"
