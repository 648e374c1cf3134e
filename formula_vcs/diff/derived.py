"""What follows from changes without being one: the balance's own shift, and what sensitive charges live through."""

from __future__ import annotations

import datetime

from formula_vcs.diff.change import Change
from formula_vcs.diff.change_words import ARROW, shift
from formula_vcs.diff.exposures import exposures, reorder
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.preservatives import free_acids
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import STEP_ORDER
from formula_vcs.words.numbers import exact_text


def derived(old: Formula, new: Formula) -> tuple[Change, ...]:
    """The shift of the balance, the changed exposure of charges, and free acid where the pH of the spec moved."""
    before, after = breakdown_of(old), breakdown_of(new)
    return (*_balance(before, after), *exposures(before, after), *_reorder(before, after), *_free_acids(before, after))


def _balance(before: Breakdown, after: Breakdown) -> list[Change]:
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


def _reorder(before: Breakdown, after: Breakdown) -> list[Change]:
    """Judge the process of both sides only where steps changed places."""
    orders = [sums.formula.recipe.facts.get(STEP_ORDER, ()) for sums in (before, after)]
    if orders[0] == orders[1] or not set(orders[0]) & set(orders[1]):
        return []
    broken = [_broken(sums) for sums in (before, after)]
    return reorder(before, after, breaks=bool(broken[1] - broken[0]))


def _broken(sums: Breakdown) -> set[str]:
    """Name what the process of a recipe breaks.  No rule about a process asks for the day."""
    from formula_vcs.rules.judge import judge
    from formula_vcs.rules.registry import OF_PROCESS

    found = judge(sums.formula, datetime.date.min, sums, OF_PROCESS)
    return {finding.fingerprint for finding in found if finding.severity != "note"}


def _free_acids(before: Breakdown, after: Breakdown) -> list[Change]:
    """Say how the free acid of each preservative moved with the pH of the spec."""
    old, new = (sums.formula.recipe.spec.get("pH") for sums in (before, after))
    if old is None or new is None or old == new:
        return []
    was, now = ({free.acid.name: free for free in free_acids(sums)} for sums in (before, after))
    changes: list[Change] = []
    for name, free in now.items():
        if name in was:
            past, present = ((one.in_water[1], one.pH[1]) for one in (was[name], free))
            if past == present:
                continue  # only the lowest pH moved
            words = (
                f"free {free.acid.title} at the highest pH of the spec: {past[0]:.3f} {ARROW} {present[0]:.3f} % of "
                f"the water phase (pH {past[1]:g} {ARROW} {present[1]:g}; estimate)"
            )
            changes.append(Change("exposure", f"spec/pH/{name}", f"{past[0]:.3f}", f"{present[0]:.3f}", words))
    return changes
