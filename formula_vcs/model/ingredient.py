"""An ingredient: one raw material as bought, read off its facts."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, Final

from formula_vcs.model.amount import Price
from formula_vcs.model.facts import Facts, readable
from formula_vcs.model.quantity import Quantity

ORIGIN_INDICES: Final = ("natural", "natural_origin", "organic", "organic_origin")
_WATER: Final = frozenset(
    {"aqua", "water", "aqua (water)", "water (aqua)", "aqua/water", "water/aqua", "eau", "aqua/water/eau"}
)


def inci_key(name: str) -> str:
    """Fold an INCI name so that spellings of one name meet; water has one key in every language of a label."""
    folded = " ".join(name.split()).casefold()
    return "aqua" if folded in _WATER else folded


def is_water(name: str) -> bool:
    """Say whether an INCI name is water."""
    return inci_key(name) == "aqua"


@dataclass(frozen=True)
class Ingredient:
    """One supplier's grade of a material.  Equal to another when id and facts are."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)
    readable: bool = field(default=True, compare=False)

    def get(self, *path: str, kind: type | tuple[type, ...] = str) -> Any:
        """Give one fact, or None where it is absent or was refused."""
        return readable(self.facts.get(path), kind)

    @property
    def title(self) -> str:
        """Give the title, or the id where there is none."""
        return self.get("title") or self.id

    @property
    def recipe(self) -> str | None:
        """Name the recipe that the material is made by, where it is a premix."""
        value: str | None = self.get("recipe")
        return value

    @property
    def density(self) -> Quantity | None:
        """Give the density."""
        value: Quantity | None = self.get("density", kind=Quantity)
        return value

    @cached_property
    def substances(self) -> dict[str, Decimal]:
        """Give the composition: INCI name to % of the material."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if len(path) == 2 and path[0] == "substances" and isinstance(value, Decimal)
        }

    @cached_property
    def inci(self) -> frozenset[str]:
        """Give the folded INCI names of the composition: what a label would call the material."""
        return frozenset(inci_key(name) for name in self.substances)

    @cached_property
    def functions(self) -> tuple[str, ...]:
        """Give what the material does in a product."""
        return tuple(path[1] for path, value in self.facts.items() if path[0] == "functions" and value is True)

    def index(self, name: str) -> Fraction | None:
        """Give an ISO 16128 index (natural, natural_origin, organic, organic_origin), 0 to 1."""
        value: Fraction | None = self.get("origin", name, kind=Fraction)
        return value

    @property
    def formulation_water(self) -> bool:
        """Say whether the material is plain water added by the maker."""
        return self.facts.get(("origin", "formulation_water")) is True

    @property
    def prices(self) -> tuple[Price, ...]:
        """Give the price list."""
        return self.get("price", kind=tuple) or ()

    def handling(self, name: str, kind: type | tuple[type, ...] = str) -> Any:
        """Give one fact of handling: shear_at_most, shear_at_least, temp_at_most ..."""
        return self.get("handling", name, kind=kind)
