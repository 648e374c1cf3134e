"""What follows from changes without being one: the balance's own shift, and what sensitive charges live through."""

from __future__ import annotations

from formula_vcs.changes.change import Change
from formula_vcs.changes.words import shift
from formula_vcs.figures.sums import Sums
from formula_vcs.model.facts import spelled
from formula_vcs.model.formula import Formula
from formula_vcs.model.numbers import exact_text
from formula_vcs.model.recipe import SHEAR_MODES


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
    """Say what charges with shear limits live through now; a charge at the same place is the same charge."""
    if before.formula.recipe.facts == after.formula.recipe.facts:
        return []
    there = {charge.key: charge for charge in before.formula.recipe.charges}
    here = {charge.key for charge in after.formula.recipe.charges}
    changes: list[Change] = []
    for charge in after.formula.recipe.charges:
        material = after.formula.ingredients.get(charge.ingredient)
        if material is None or not (material.handling("shear_at_most") or material.handling("shear_at_least")):
            continue
        partner = there.get(charge.key) or next(
            (c for c in there.values() if c.ingredient == charge.ingredient and c.key not in here), None
        )
        was = None if partner is None else _history(before, partner.key)
        now = _history(after, charge.key)
        if was != now:
            words = f"{charge.ingredient} ({charge.phase}) sees {now} (was {was or 'not there'})"
            changes.append(Change("exposure", spelled((partner or charge).path), was, now, words))
    return changes


def _history(sums: Sums, key: str) -> str:
    """Say the highest shear that a charge has seen, with the step, its speed and its time."""
    seen = [exposure for exposure in sums.walk.exposures.get(key, ()) if exposure.shear != "none"]
    if not seen:
        return "no shear"
    top = max(seen, key=lambda exposure: SHEAR_MODES.index(exposure.shear))
    same = [exposure.step for exposure in seen if exposure.shear == top.shear]
    parts = [
        ", ".join(
            [
                f"'{step.id}'",
                *(str(span) for span in (step.span("speed"), step.span("time")) if span is not None),
            ]
        )
        for step in same
    ]
    return f"{top.shear} shear in {' and '.join(parts)}"
