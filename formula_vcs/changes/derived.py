"""What follows from changes without being one: the balance's own shift, and what sensitive charges live through."""

from __future__ import annotations

from formula_vcs.changes.change import Change
from formula_vcs.changes.words import shift
from formula_vcs.figures.sums import Sums
from formula_vcs.model.formula import Formula
from formula_vcs.model.numbers import exact_text
from formula_vcs.model.recipe import SHEAR_MODES, Recipe


def derived(old: Formula, new: Formula) -> tuple[Change, ...]:
    """Give the shift of the balance, and the changed exposure of charges whose ingredient states shear limits."""
    before, after = Sums(old), Sums(new)
    return (*_balance(before, after), *_exposures(before, after))


def _balance(before: Sums, after: Sums) -> list[Change]:
    changes: list[Change] = []
    old, new = before.composition, after.composition
    for charge in old.balances:
        partner = next((c for c in new.balances if c.ingredient == charge.ingredient), None)
        was, now = old.pct(charge.key), new.pct(partner.key) if partner is not None else None
        if was is not None and now is not None and was != now:
            where = "/".join(charge.path)
            words = f"{charge.ingredient} ({charge.phase}, the balance): {shift(was, now)}"
            changes.append(Change("balance", where, exact_text(was), exact_text(now), words))
    return changes


def _exposures(before: Sums, after: Sums) -> list[Change]:
    changes: list[Change] = []
    if before.formula.recipe.facts == after.formula.recipe.facts:
        return changes
    places = _by_ingredient(before.formula.recipe), _by_ingredient(after.formula.recipe)
    for ingredient, keys in places[0].items():
        material = after.formula.ingredients.get(ingredient)
        if material is None or not (material.handling("shear_at_most") or material.handling("shear_at_least")):
            continue
        for key, partner in zip(keys, places[1].get(ingredient, ()), strict=False):
            was, now = _history(before, key), _history(after, partner)
            if was != now:
                words = f"{ingredient} ({partner.split('/')[0]}) sees {now} (was {was})"
                changes.append(Change("exposure", f"phase/{key.replace('/', '/charge/', 1)}", was, now, words))
    return changes


def _by_ingredient(recipe: Recipe) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for charge in recipe.charges:
        found.setdefault(charge.ingredient, []).append(charge.key)
    return found


def _history(sums: Sums, key: str) -> str:
    """Say the highest shear that a charge has seen, with the step, its speed and its time."""
    seen = [exposure for exposure in sums.walk.exposures.get(key, ()) if exposure.shear != "none"]
    if not seen:
        return "no shear"
    top = max(seen, key=lambda exposure: SHEAR_MODES.index(exposure.shear))
    same = [exposure.step for exposure in seen if exposure.shear == top.shear]
    parts = [
        ", ".join(
            [f"'{step.id}'", *(str(span) for span in (step.span("speed"), step.span("time")) if span is not None)]
        )
        for step in same
    ]
    return f"{top.shear} shear in {' and '.join(parts)}"


