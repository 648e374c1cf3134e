"""Amounts: each material by itself, and all together; what came, what went, what is another grade of the same."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from formula_vcs.diff.diff import main_inci
from formula_vcs.evidence.drift.drift import Drift, DriftSides, short, signed
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED
from formula_vcs.law.packs_in_force import law_of
from formula_vcs.model.facts import readable
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import main_name
from formula_vcs.model.values import replace
from formula_vcs.words.numbers import shown

Shares = dict[str, Fraction]
_MOST_NAMED = 3


def drifts(sides: DriftSides) -> Iterator[Drift]:
    """Measure the materials of the product, premixes seen through; the balance only fills up and is left out.

    What is kept for the pH stays closed: its nominal amount is a guess, and only another kind of it is a change.
    """
    adjusters = {name for sums in sides.sums for name in adjusters_of(sums)}
    balances = {charge.ingredient for sums in sides.sums for charge in sums.composition.balances}
    closed = adjusters | balances
    opened = [_open(sums) for sums in sides.sums]
    if opened[0] != opened[1]:
        for name in sorted(opened[0] ^ opened[1]):
            yield Drift("amount", name, f"{name}: its amount {'is' if name in opened[1] else 'was'} not settled")
    unknown = opened[0] | opened[1]
    if unknown and any(recipe.amounts != "percent" for recipe in (sides.old.recipe, sides.new.recipe)):
        return  # where amounts are parts of a sum, an open one leaves all open
    old, new = (
        {n: s for n, s in sums.spread(lambda m: m.id in closed).items() if s and n not in unknown}
        for sums in sides.sums
    )
    swaps = _swaps(sides, old, new)
    yield from _came_and_went(sides, old, new, swaps, adjusters)
    moved = list(_moved(sides, old, new, swaps, closed))
    yield from moved
    yield from _sum(moved)
    for name in sorted(adjusters & old.keys() & new.keys()):
        yield from _adjuster(sides, name, old[name], new[name])


def adjusters_of(sums: Breakdown) -> set[str]:
    """Name the ingredients that are kept for setting the pH."""
    recipe = sums.formula.recipe
    kept = {key for step in recipe.steps for key in step.adjust}
    return {c.ingredient for c in recipe.charges if c.key in kept or str(c.more.get("for", "")).casefold() == "ph"}


def _open(sums: Breakdown) -> set[str]:
    """Name the ingredients whose amount is still open, in the recipe or in a premix."""
    made = [recipe for name in sums.formula.order if (recipe := sums.formula.premix_of(name)) is not None]
    compositions = (sums.composition, *(sums.premix(recipe.id) for recipe in made))
    return {charge.ingredient for composition in compositions for charge in composition.unknown}


def functions_of(formula: Formula, name: str) -> frozenset[str]:
    """Give what a material does in a product; one of Annex V preserves, whatever its file says."""
    found = formula.ingredients.get(name)
    said = {word.casefold() for word in found.functions} if found is not None else set()
    return frozenset({*said, "preservative"} if _preserves(main_inci(formula, name) or "") else said)


@lru_cache(maxsize=1024)
def _preserves(key: str) -> bool:
    """Say whether a folded name is that of a preservative of Annex V of Regulation (EC) No 1223/2009."""
    return any(row.pack == "eu-annex-v" and row.kind != "hint" for row in law_of(("EU",)).about((key,), ()))


def _swaps(sides: DriftSides, old: Shares, new: Shares) -> dict[str, str]:
    """Give materials that went with the grade of the same substance that stands in for them: ``{old: new}``.

    Also one that was there before: two grades made one.
    """
    grades: dict[str, str] = {}
    for name in sorted(new, key=lambda name: (name in old, name)):
        inci = main_inci(sides.new, name)
        if inci is not None:
            grades.setdefault(inci, name)
    found: dict[str, str] = {}
    for name in sorted(old.keys() - new.keys()):
        partner = grades.get(main_inci(sides.old, name) or "")
        if partner is not None:
            found[name] = partner
    for name in sorted(new.keys() - old.keys() - set(found.values())):
        inci = main_inci(sides.new, name)
        partner = next((o for o in sorted(old) if inci is not None and main_inci(sides.old, o) == inci), None)
        if partner is not None:
            found.setdefault(partner, name)
    return found


def _came_and_went(
    sides: DriftSides, old: Shares, new: Shares, swaps: dict[str, str], adjusters: set[str]
) -> Iterator[Drift]:
    for before, after in swaps.items():
        words = f"{before} \u2192 {after}: another grade of {main_name(sides.new.ingredients.get(after))}"
        yield Drift("grade", after, words, detail=before, functions=functions_of(sides.new, after))
    for name in sorted(old.keys() - new.keys() - swaps.keys()):
        of_ph = "adjuster-kind" if name in adjusters else "removed"
        words = f"{name} is no longer in it, {shown(old[name] * HUNDRED)} % was"
        yield Drift(of_ph, name, words, functions=functions_of(sides.old, name))
    for name in sorted(new.keys() - old.keys() - set(swaps.values())):
        of_ph = "adjuster-kind" if name in adjusters else "added"
        words = f"{name} is new in it, {shown(new[name] * HUNDRED)} %"
        yield Drift(of_ph, name, words, functions=functions_of(sides.new, name))


def _moved(sides: DriftSides, old: Shares, new: Shares, swaps: dict[str, str], closed: set[str]) -> Iterator[Drift]:
    pairs = {name: name for name in old.keys() & new.keys()}
    pairs |= {before: after for before, after in swaps.items() if before not in new and after not in old}
    for before, after in sorted(pairs.items()):
        was, now = old[before], new[after]
        if before in closed or after in closed or was == now:
            continue
        relative = (now - was) / was
        words = f"{after} {signed(relative * HUNDRED)} % of its amount"
        yield Drift("amount", after, words, abs(relative), functions=functions_of(sides.new, after))


def _sum(moved: list[Drift]) -> Iterator[Drift]:
    """Add up all relative changes, each as it is, up or down: the stricter reading of a total effect."""
    total = sum((drift.size for drift in moved), Fraction(0))
    if len(moved) > 1:
        largest = sorted(moved, key=lambda drift: (-drift.size, drift.about))[:_MOST_NAMED]
        names = ", ".join(drift.about for drift in largest) + (" ..." if len(moved) > _MOST_NAMED else "")
        words = f"all relative changes together {short(total * HUNDRED)} % ({names}; the balance left out)"
        yield Drift("sum", "", words, total)


def _adjuster(sides: DriftSides, name: str, was: Fraction, now: Fraction) -> Iterator[Drift]:
    if was != now:
        relative = (now - was) / was
        words = f"{name}, kept for the pH: {signed(relative * HUNDRED)} % of its amount"
        yield Drift("adjuster", name, words, abs(relative))
    before, after = (_most(sums, name) for sums in sides.sums)
    if before is not None and (after is None or after > before):
        words = "as much as it takes" if after is None else f"up to {shown(after)} %"
        far = Fraction(1) if after is None or not before else (after - before) / before
        words = f"{name}, kept for the pH: {words}, up to {shown(before)} % was"
        yield Drift("adjuster", f"{name}/at_most", words, far)
    inside = [_inside(sums, name) for sums in sides.sums]
    if inside[0] != inside[1]:
        words = f"{name}, kept for the pH, is made of something else or in another strength"
        yield Drift("adjuster-kind", name, words, detail=str(sorted(inside[1].items())))


def _most(sums: Breakdown, name: str) -> Fraction | None:
    """Give how much of what is kept for the pH may go in, in %; None where a charge of it has no limit."""
    limits = [readable(c.more.get("at_most"), Decimal) for c in sums.formula.recipe.charges if c.ingredient == name]
    known = [Fraction(limit) for limit in limits if limit is not None]
    return sum(known, Fraction(0)) if len(known) == len(limits) else None


def _inside(sums: Breakdown, name: str) -> Shares:
    recipe = sums.formula.premix_of(name)
    return {} if recipe is None else sums.premix(recipe.id).by_ingredient()


def renamed(drift: Drift, lead: str) -> Drift:
    """Give a drift of a premix, said to be of it."""
    return replace(drift, about=f"{lead}/{drift.about}", text=f"premix '{lead}': {drift.text}")
