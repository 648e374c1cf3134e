"""Match the charges of two versions of a recipe by identity."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from formula_vcs.model.recipe import Charge
from formula_vcs.model.values import dataclass, field

Grade = Callable[[str], str | None]


@dataclass(slots=True)
class Matching:
    """Which charge of the old version is which of the new one.

    ``same`` are pairs, at their place, moved, or swapped for another grade; ``split`` and ``joined`` are one
    ingredient whose places became more or fewer at an unchanged sum.
    """

    same: list[tuple[Charge, Charge]] = field(default_factory=list)
    split: list[tuple[list[Charge], list[Charge]]] = field(default_factory=list)
    joined: list[tuple[list[Charge], list[Charge]]] = field(default_factory=list)
    removed: list[Charge] = field(default_factory=list)
    added: list[Charge] = field(default_factory=list)


def match(old: tuple[Charge, ...], new: tuple[Charge, ...], old_grade: Grade, new_grade: Grade) -> Matching:
    """Match charges; ``*_grade`` give the INCI name that makes two ingredients grades of one material."""
    result = Matching()
    there = {charge.path: charge for charge in new}
    if len(old) == len(new) == len({charge.ingredient for charge in old}) and all(c.path in there for c in old):
        result.same = [(charge, there[charge.path]) for charge in old]  # nothing moved, as mostly
        return result
    before: dict[str, list[Charge]] = defaultdict(list)
    after: dict[str, list[Charge]] = defaultdict(list)
    for charge in old:
        before[charge.ingredient].append(charge)
    for charge in new:
        after[charge.ingredient].append(charge)
    moved: list[tuple[Charge, Charge]] = []
    for ingredient in dict.fromkeys([*before, *after]):
        _of_one(before.get(ingredient, []), after.get(ingredient, []), result, moved)
    _swap_places(moved, result, old_grade, new_grade)
    _swap_grades(result, old_grade, new_grade)
    return result


def _of_one(before: list[Charge], after: list[Charge], result: Matching, moved: list[tuple[Charge, Charge]]) -> None:
    if len(before) != len(after) and before and after and _same_sum(before, after):
        (result.split if len(before) < len(after) else result.joined).append((before, after))
        return
    there = {charge.phase: charge for charge in after}
    left: list[Charge] = []
    for charge in before:
        partner = there.pop(charge.phase, None)
        if partner is None:
            left.append(charge)
        else:
            result.same.append((charge, partner))
    right = list(there.values())
    # equal amounts find each other first: of two charges that moved, each keeps its own
    for charge in [*left]:
        partner = next((other for other in right if other.amount == charge.amount), None)
        if partner is not None:
            moved.append((charge, partner))
            left.remove(charge)
            right.remove(partner)
    moved.extend(zip(left, right, strict=False))
    result.removed.extend(left[len(right) :])
    result.added.extend(right[len(left) :])


def _same_sum(before: list[Charge], after: list[Charge]) -> bool:
    amounts = [charge.amount for charge in (*before, *after)]
    if any(amount is None or amount.kind not in ("percent", "parts") for amount in amounts):
        return False
    old, new = (sum(Fraction(c.amount.value) for c in side if c.amount is not None) for side in (before, after))
    return old == new and (len(before) == 1 or len(after) == 1)


def _swap_places(moved: list[tuple[Charge, Charge]], result: Matching, old_grade: Grade, new_grade: Grade) -> None:
    """Read two moves in opposite directions as two grade swaps where the amounts stayed at their places."""
    left = dict(enumerate(moved))
    at: dict[object, list[int]] = defaultdict(list)
    for number, (here, there) in reversed(left.items()):
        at[here.phase, there.phase, here.amount, there.amount, new_grade(there.ingredient)].append(number)
    for number, (here, there) in enumerate(moved):
        if left.pop(number, None) is None:
            continue
        grade = old_grade(here.ingredient)
        mirrors = at.get((there.phase, here.phase, there.amount, here.amount, grade), [])
        while mirrors and mirrors[-1] not in left:
            mirrors.pop()
        if mirrors and grade is not None and here.amount != there.amount:
            mirror = left.pop(mirrors.pop())
            result.same += [(here, mirror[1]), (mirror[0], there)]
        else:
            result.same.append((here, there))


# What two grades may have in common besides their name, the closest first.
_CLOSE: Final[tuple[Callable[[Charge], object], ...]] = (
    lambda charge: (charge.phase, charge.amount),
    lambda charge: charge.phase,
    lambda charge: charge.amount,
    lambda _: None,
)


def _swap_grades(result: Matching, old_grade: Grade, new_grade: Grade) -> None:
    for close in _CLOSE:
        come: dict[object, list[Charge]] = defaultdict(list)
        for other in reversed(result.added):
            come[new_grade(other.ingredient), close(other)].append(other)
        gone: set[str] = set()
        for charge in result.removed:
            grade = old_grade(charge.ingredient)
            others = come[grade, close(charge)]
            if grade is not None and others:
                other = others.pop()
                gone |= {f"-{charge.key}", f"+{other.key}"}
                result.same.append((charge, other))
        result.removed = [charge for charge in result.removed if f"-{charge.key}" not in gone]
        result.added = [other for other in result.added if f"+{other.key}" not in gone]
