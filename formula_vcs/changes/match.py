"""Match the charges of two versions of a recipe by identity."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

from formula_vcs.model.recipe import Charge

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
    old, new = (sum(c.amount.value for c in side if c.amount is not None) for side in (before, after))
    return old == new and (len(before) == 1 or len(after) == 1)


def _swap_places(moved: list[tuple[Charge, Charge]], result: Matching, old_grade: Grade, new_grade: Grade) -> None:
    """Read two moves in opposite directions as two grade swaps where the amounts stayed at their places."""
    rest = list(moved)
    while rest:
        here, there = rest.pop(0)
        mirror = next(
            (
                pair
                for pair in rest
                if pair[0].phase == there.phase
                and pair[1].phase == here.phase
                and here.amount != there.amount
                and here.amount == pair[1].amount
                and pair[0].amount == there.amount
                and old_grade(here.ingredient) is not None
                and old_grade(here.ingredient) == new_grade(pair[1].ingredient)
            ),
            None,
        )
        if mirror is None:
            result.same.append((here, there))
        else:
            rest.remove(mirror)
            result.same += [(here, mirror[1]), (mirror[0], there)]


def _swap_grades(result: Matching, old_grade: Grade, new_grade: Grade) -> None:
    ranked = sorted(
        (
            (charge.phase != other.phase, charge.amount != other.amount, i, j)
            for i, charge in enumerate(result.removed)
            for j, other in enumerate(result.added)
            if old_grade(charge.ingredient) is not None and old_grade(charge.ingredient) == new_grade(other.ingredient)
        ),
    )
    gone: set[int] = set()
    come: set[int] = set()
    for _, _, i, j in ranked:
        if i not in gone and j not in come:
            gone.add(i)
            come.add(j)
            result.same.append((result.removed[i], result.added[j]))
    result.removed = [charge for i, charge in enumerate(result.removed) if i not in gone]
    result.added = [charge for j, charge in enumerate(result.added) if j not in come]
