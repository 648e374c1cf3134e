"""The lots that a batch takes, as they are named on the command line."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from formula_vcs.errors import UserError
from formula_vcs.model.formula import Formula
from formula_vcs.rules.records.lot_fitness import Taker, unfit
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
    taker = Taker(ingredient, None if premix is None else premix.id, "", day)
    return "; ".join(why.words for why in unfit(lot, taker, here))
