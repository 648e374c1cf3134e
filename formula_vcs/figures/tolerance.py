"""How far a weighed mass may lie from its target: the charge's own word, else the workspace's, else common practice."""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.recipe import Charge
from formula_vcs.model.workspace import Workspace

PRACTICE: Final = "common practice"
# By what a material does: what a little of does much is weighed closer.  Common practice, no source.
_BY_FUNCTION: Final = {
    **dict.fromkeys(("preservative", "oral care active", "active", "uv filter"), Fraction(1, 200)),
    **dict.fromkeys(("fragrance", "flavour", "colour", "colourant", "perfume"), Fraction(1, 50)),
}
_OTHERS: Final = Fraction(1, 100)


class Tolerance(NamedTuple):
    """A tolerance as a share of the target, and who says so."""

    share: Fraction
    why: str

    def of(self, target: Fraction, division: Fraction | None) -> Fraction:
        """Give what a mass in kg may be off: never less than one division, as no balance shows less."""
        return max(self.share * target, division or Fraction(0))


def tolerance_of(charge: Charge | None, ingredient: Ingredient | None, workspace: Workspace) -> Tolerance:
    """Give the tolerance of a charge: its own, else that of workspace.toml, else common practice."""
    own = None if charge is None else charge.more.get("tolerance")
    if isinstance(own, Quantity):
        return Tolerance(own.base, "the recipe")
    functions = () if ingredient is None else ingredient.functions
    names = (*((ingredient.id,) if ingredient is not None else ()), *functions)
    for name in names:
        found = workspace.get("tolerance", name, kind=Quantity)
        if isinstance(found, Quantity):
            return Tolerance(found.base, f"workspace.toml, {name}")
    common = workspace.get("tolerance", kind=Quantity) or workspace.get("tolerance", "default", kind=Quantity)
    if isinstance(common, Quantity):
        return Tolerance(common.base, "workspace.toml")
    known = [_BY_FUNCTION[name.casefold()] for name in functions if name.casefold() in _BY_FUNCTION]
    return Tolerance(min(known, default=_OTHERS), PRACTICE)
