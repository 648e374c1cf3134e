"""The workspace's own facts, and what else stands on its shelves."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, Any

from formula_vcs.model.derived import Derived
from formula_vcs.model.facts import Facts, readable
from formula_vcs.model.quantity import Quantity, Rate, rates
from formula_vcs.model.values import dataclass, field

if TYPE_CHECKING:
    from formula_vcs.model.evidence import Proof


@dataclass(frozen=True)
class Workspace:
    """Defaults for all recipes of a folder: title, currency, markets, batch ...; and the house's rules.

    The facts of `rules/house.toml` stand among these under ``("rules", "house", ...)``, so that a changed rule is a
    change under the recipes that it touches.
    """

    facts: Facts = field(default_factory=dict)
    file: str = field(default="workspace.toml", compare=False)
    derived: Derived = field(default_factory=Derived, init=False, compare=False, repr=False)

    def get(self, *path: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact, or None."""
        return readable(self.facts.get(path), kind)

    @cached_property
    def names(self) -> dict[str, tuple[str, ...]]:
        """The members of the workspace's sets: markets and packs."""
        sets: dict[str, list[str]] = {"markets": [], "packs": []}
        for path, value in self.facts.items():
            if len(path) == 2 and path[0] in sets and value is True:
                sets[path[0]].append(path[1])
        return {name: tuple(members) for name, members in sets.items()}

    @property
    def batch(self) -> Quantity | None:
        """The batch size that costs are quoted for where a recipe has none."""
        value: Quantity | None = self.get("batch", kind=Quantity)
        return value

    @property
    def currency(self) -> str | None:
        """The currency that costs are shown in."""
        value: str | None = self.get("currency")
        return value

    @cached_property
    def rates(self) -> tuple[Rate, ...]:
        """The rates of exchange that the house states."""
        return tuple(rates(self.facts))


@dataclass(frozen=True)
class Record:
    """A file that has facts and an id and no arithmetic of its own here: equipment, lots, batches, evidence."""

    kind: str
    id: str
    facts: Facts
    file: str = field(default="", compare=False)


def _none_recorded(_recipe: str) -> tuple[Proof, ...]:
    return ()


@dataclass(frozen=True)
class Shelf:
    """The ids that references may name, and the ``proofs`` on record for a recipe, looked up when asked for."""

    recipes: frozenset[str] = frozenset()
    ingredients: frozenset[str] = frozenset()
    equipment: frozenset[str] = frozenset()
    packaging: frozenset[str] = frozenset()
    proofs: Callable[[str], tuple[Proof, ...]] = field(default=_none_recorded, compare=False, repr=False)
