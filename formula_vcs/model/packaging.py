"""What a product is filled into: the pieces of one pack, and what is lost while it is filled."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any

from formula_vcs.model.amount import Price
from formula_vcs.model.facts import Facts, Path, readable
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, field

ITEM = "item"


@dataclass(frozen=True, slots=True)
class PackItem:
    """One kind of piece: a tube, a cap, a carton, a label."""

    id: str
    facts: Mapping[Path, Any]

    @property
    def title(self) -> str:
        """The title, or the id where there is none."""
        return readable(self.facts.get(("title",)), str) or self.id

    @property
    def prices(self) -> tuple[Price, ...]:
        """The price list, for one piece."""
        return readable(self.facts.get(("price",)), tuple) or ()

    @property
    def each(self) -> Fraction:
        """How many of it one pack takes; a carton for twelve is 1/12."""
        value = readable(self.facts.get(("each",)), (Decimal, Fraction))
        return Fraction(1) if value is None else Fraction(value)

    @property
    def scrap(self) -> Fraction:
        """The share of the pieces that are spoiled, 0 to 1."""
        value: Quantity | None = readable(self.facts.get(("scrap",)), Quantity)
        return Fraction(0) if value is None else value.base

    @property
    def needed(self) -> Fraction:
        """How many have to be bought for one good pack."""
        return self.each / (1 - self.scrap)


@dataclass(frozen=True)
class Packaging:
    """One pack as it is bought and put together.  Equal to another when id and facts are."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)
    readable: bool = field(default=True, compare=False)

    def get(self, name: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact of the file's top, or None where it is absent or was refused."""
        return readable(self.facts.get((name,)), kind)

    @property
    def title(self) -> str:
        """The title, or the id where there is none."""
        return self.get("title") or self.id

    @property
    def holds(self) -> Quantity | None:
        """The nominal content that it is made for, a mass or a volume."""
        value: Quantity | None = self.get("holds", Quantity)
        return value

    def share(self, name: str) -> Fraction:
        """Give ``loss`` (of the product, in filling) or ``overfill``, 0 where the file states none."""
        value: Quantity | None = self.get(name, Quantity)
        return Fraction(0) if value is None else value.base

    @cached_property
    def items(self) -> tuple[PackItem, ...]:
        """The pieces in the order of the file."""
        found: dict[str, dict[Path, Any]] = {}
        for path, value in self.facts.items():
            if path[0] == ITEM and len(path) > 1:
                found.setdefault(path[1], {})[path[2:]] = value
        return tuple(PackItem(name, facts) for name, facts in found.items())
