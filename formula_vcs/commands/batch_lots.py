"""The lots that a batch takes, as they are named on the command line."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from formula_vcs.errors import UserError
from formula_vcs.model.batch import Batch
from formula_vcs.model.formula import Formula
from formula_vcs.model.lot import Lot
from formula_vcs.toml.takers import nearest
from formula_vcs.workspace.snapshot import Snapshot


def lots_of(words: Sequence[str], formula: Formula, here: Snapshot, day: datetime.date) -> dict[str, str]:
    """Read INGREDIENT=LOT; a lot that may not be used on the day is refused.

    :raises UserError: the ingredient is none of the recipe's, the lot is none of the ingredient's, or is not free.
    """
    found: dict[str, str] = {}
    for word in words:
        ingredient, equals, lot = (part.strip() for part in word.partition("="))
        if not equals or not ingredient or not lot:
            raise UserError(f"--lot: '{word}' is no INGREDIENT=LOT")
        if ingredient not in formula.ingredients:
            near = nearest(ingredient, formula.ingredients)
            raise UserError(f"--lot: '{formula.recipe.id}' holds no '{ingredient}'{near}")
        if ingredient in found:
            raise UserError(f"--lot: '{ingredient}' is named twice; several lots of one charge are recorded later")
        trouble = lot_trouble(ingredient, lot, formula, here, day)
        if trouble:
            raise UserError(f"--lot: {trouble}")
        found[ingredient] = lot
    return found


def lot_trouble(ingredient: str, lot: str, formula: Formula, here: Snapshot, day: datetime.date) -> str:
    """Say why a lot may not go into a charge on a day, empty where it may."""
    premix = formula.premix_of(ingredient)
    if premix is not None:
        return _of_batch(ingredient, lot, premix.id, here)
    record = here.record("lots", lot)
    if record is None:
        return f"no lot is called '{lot}' (lots/){nearest(lot, here.ids('lots'))}"
    found = Lot(lot, record.facts, record.file)
    if found.ingredient != ingredient:
        return f"lot '{lot}' is {found.ingredient or 'of no ingredient'}, and '{ingredient}' is wanted"
    if found.status in ("quarantine", "rejected"):
        return f"lot '{lot}' is {'in quarantine' if found.status == 'quarantine' else 'rejected'}"
    if found.expires is not None and found.expires < day:
        return f"lot '{lot}' expired on {found.expires}"
    return ""


def _of_batch(ingredient: str, lot: str, recipe: str, here: Snapshot) -> str:
    record = here.record("batches", lot)
    if record is None:
        near = nearest(lot, here.ids("batches"))
        return f"'{ingredient}' is a premix, its lot is the batch that made it, and no batch is called '{lot}'{near}"
    made = Batch(lot, record.facts, record.file).recipe
    return "" if made == recipe else f"batch '{lot}' is of '{made}', and '{recipe}' is wanted"
