"""A lot: one delivery of an ingredient, read off the facts of its file."""

from __future__ import annotations

import datetime
from functools import cached_property
from typing import Any, Final

from formula_vcs.model.facts import Facts, readable
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass, field

STATUSES: Final = ("quarantine", "released", "rejected")


@dataclass(frozen=True)
class Lot:
    """One delivery of an ingredient.  ``id`` is the name that batches use; ``number`` is the supplier's."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)

    def get(self, *path: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact, or None where it is absent or was refused."""
        return readable(self.facts.get(path), kind)

    @property
    def ingredient(self) -> str | None:
        """Name the ingredient that was delivered."""
        value: str | None = self.get("ingredient")
        return value

    @property
    def number(self) -> str | None:
        """The supplier's own number of the lot."""
        value: str | None = self.get("lot")
        return value

    @property
    def status(self) -> str | None:
        """Say whether it may be used: quarantine, released or rejected; None where the file does not say."""
        value: str | None = self.get("status")
        return value

    @property
    def received(self) -> datetime.date | None:
        """The day on which it came."""
        value: datetime.date | None = self.get("received", kind=datetime.date)
        return value

    @property
    def expires(self) -> datetime.date | None:
        """The last day on which it may be used."""
        value: datetime.date | None = self.get("expires", kind=datetime.date)
        return value

    @property
    def quantity(self) -> Quantity | None:
        """How much came, a mass or a volume."""
        value: Quantity | None = self.get("quantity", kind=Quantity)
        return value

    @property
    def price(self) -> Quantity | None:
        """What was paid for it, for 1 kg or for a volume."""
        value: Quantity | None = self.get("price", kind=Quantity)
        return value

    @cached_property
    def certificate(self) -> dict[str, Range]:
        """What the supplier measured, by name; one value is a range with both ends alike."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if len(path) == 2 and path[0] == "certificate" and isinstance(value, Range)
        }

    @cached_property
    def judged(self) -> dict[str, bool]:
        """Give of the words of a spec whether the supplier says that the lot conforms."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if len(path) == 2 and path[0] == "certificate" and isinstance(value, bool)
        }
