"""A batch as its recipe asks for it: what ``trace BATCH --against-recipe`` holds a real one against.

Every charge is weighed to its target, every step done as asked, every result and every certificate value in the middle
of its spec.  A premix lot that was made here is held against its own recipe in the same way.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any, Final

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.facts import Path
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_ORDER, STEP_VALUES
from formula_vcs.model.values import replace
from formula_vcs.trace.batch_context import BatchContext, Records, party
from formula_vcs.trace.compare_measurements import middle
from formula_vcs.trace.lot_mixture import main_of, shares_of
from formula_vcs.workspace.snapshot import Snapshot

_SIGN: Final = "@"  # no id of a file holds it, so that nothing real is ever taken for what is only asked
EXACT_DIGITS: Final = 9  # what is asked has no last digit that a difference could hide in
_EXACT: Final = Decimal(1).scaleb(-EXACT_DIGITS)
_KG: Final = "kg"


def is_aim(name: str) -> bool:
    """Say whether a batch or a lot is only what is asked for."""
    return name.endswith(_SIGN)


class AimedRecords(Records):
    """The records of a workspace, and beside them what is asked for: lots and batches whose name ends with "@"."""

    def __init__(self, snapshot: Snapshot, pins: PinnedVersions) -> None:
        """Take the workspace, and what finds the versions that batches name."""
        super().__init__(snapshot)
        self._pins = pins
        self._aimed_lots: dict[str, Lot] = {}
        self._aimed_batches: dict[str, Batch] = {}

    def batch(self, name: str) -> Batch | None:
        """Read a batch, or give the one that is asked for."""
        if not is_aim(name):
            return super().batch(name)
        if name not in self._aimed_batches:
            real = super().batch(name.removesuffix(_SIGN))
            return None if real is None else self.aim(party(self._pins, real))
        return self._aimed_batches[name]

    def lot(self, name: str) -> Lot | None:
        """Read a lot, or give the one that is asked for."""
        return self._aimed_lots.get(name) or super().lot(name)

    def aim(self, side: BatchContext) -> Batch:
        """Give the batch that a real one was to be."""
        facts: dict[Path, Any] = {
            path: value
            for path, value in side.batch.facts.items()
            if path[0] in ("recipe", "commit", "hash", "size", "date", "equipment", "pack")
        }
        facts |= self._charges(side)
        facts |= _steps(side)
        spec = {} if side.formula is None else side.formula.recipe.spec
        facts |= {("result", name): _exact(value) for name, span in spec.items() if (value := middle(span)) is not None}
        found = Batch(f"{side.batch.id}{_SIGN}", facts)
        self._aimed_batches[found.id] = found
        return found

    def _charges(self, side: BatchContext) -> dict[Path, Any]:
        facts: dict[Path, Any] = {}
        size = side.batch.size
        for key in dict.fromkeys((*side.shares, *side.charges)):
            phase, _, ingredient = key.partition("/")
            charge = side.charges.get(key)
            target = None if charge is None else charge.target
            share = side.shares.get(key)
            if target is None and share is not None and size is not None:
                target = _mass(share * size.base / 100)
            path = ("phase", phase, "charge", ingredient)
            if target is not None:
                facts[*path, "target"] = facts[*path, "weighed"] = target
            lot = main_of(shares_of(charge))
            if lot is not None:
                facts[*path, "lot"] = self._lot(side, ingredient, lot)
        return facts

    def _lot(self, side: BatchContext, ingredient: str, name: str) -> str:
        aimed = f"{name}{_SIGN}"
        made = None if self.lot(name) is not None else self.batch(name)
        if made is not None:
            return aimed  # its own aim is made when it is come to
        material = None if side.formula is None else side.formula.ingredients.get(ingredient)
        facts: dict[Path, Any] = {("ingredient",): ingredient}
        for path, span in ({} if material is None else material.facts).items():
            value = middle(span) if path[0] == "spec" and len(path) == 2 and isinstance(span, Range) else None
            if value is not None:
                exact = _exact(value)
                facts["certificate", path[1]] = Range(exact.text, exact, exact)
        self._aimed_lots[aimed] = Lot(aimed, facts)
        return aimed


def _steps(side: BatchContext) -> dict[Path, Any]:
    facts: dict[Path, Any] = {}
    names = tuple(step for step in side.asked if side.steps.get(step)) or tuple(side.asked)
    for name in names:
        facts |= {("step", name, "target", key): value for key, value in _asked(side, name).items()}
        facts |= {("step", name, key): value for key, value in _asked(side, name).items()}
    facts[STEP_ORDER] = names
    return facts


def _asked(side: BatchContext, step: str) -> dict[str, Any]:
    recipe = side.asked[step].facts
    sheet = side.steps[step][0].target if side.steps.get(step) else {}
    found = {name: sheet.get(name, recipe.get(name)) for name in STEP_VALUES}
    return {name: value for name, value in found.items() if isinstance(value, Range | str)}


def _exact(value: Quantity) -> Quantity:
    """Give a value with so many digits that none of its rounding hides a difference."""
    try:
        return replace(value, value=value.value.quantize(_EXACT))
    except InvalidOperation:  # it has more digits than that already
        return value


def _mass(base: Fraction) -> Quantity:
    number = (Decimal(base.numerator) / Decimal(base.denominator)).quantize(_EXACT)
    return Quantity(f"{number} kg", number, _KG, "mass", base)
