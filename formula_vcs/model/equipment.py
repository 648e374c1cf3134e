"""A piece of equipment: mixer, vessel or balance, read off its facts."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, Final

from formula_vcs.model.facts import Facts, readable
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass, field

ROTOR_STATORS: Final = frozenset({"rotor-stator", "rotor stator", "inline rotor-stator", "homogeniser", "homogenizer"})
MILLS: Final = frozenset({"colloid mill", "three-roll mill", "roll mill", "high-pressure homogeniser", "mill"})
BY_HAND: Final = frozenset({"spatula", "hand", "hand tool"})
_STIRRING: Final = frozenset(
    {"stirrer", "propeller", "turbine", "paddle", "anchor", "helical ribbon", "dissolver", "folder", "planetary mixer"}
)
_OTHERS: Final = frozenset({"vessel", "tank", "kettle", "balance", "filler", "filling machine", "other"})
# What a piece of equipment may be; a balance that is called a scale would be none, and nobody would be told.
KINDS_OF_EQUIPMENT: Final = tuple(sorted(ROTOR_STATORS | MILLS | BY_HAND | _STIRRING | _OTHERS))


@dataclass(frozen=True)
class Equipment:
    """One piece of equipment.  Equal to another when id and facts are.  Lengths in m, volumes in m3."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)
    readable: bool = field(default=True, compare=False)

    def get(self, name: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact, or None where it is absent or was refused."""
        return readable(self.facts.get((name,)), kind)

    @property
    def title(self) -> str:
        """The title, or the id where there is none."""
        return self.get("title") or self.id

    @property
    def kind(self) -> str:
        """Say what it is: vessel, rotor-stator, propeller, stirrer, balance ... in lower case."""
        return (self.get("kind") or "").casefold()

    @property
    def is_rotor_stator(self) -> bool:
        """Say whether it shears in a gap."""
        return self.kind in ROTOR_STATORS or ("rotor",) in self.facts

    @property
    def division(self) -> Fraction | None:
        """The readability of a balance in kg, where its file states it."""
        return self._base("readability")

    @cached_property
    def tool(self) -> Fraction | None:
        """The diameter of the rotor, else of the impeller, in m."""
        return self._base("rotor") or self._base("impeller")

    @property
    def gap(self) -> Fraction | None:
        """The gap between rotor and stator in m."""
        return self._base("gap")

    @property
    def volume(self) -> Fraction | None:
        """What the vessel holds to its brim, in m3."""
        return self._base("volume")

    @property
    def diameter(self) -> Fraction | None:
        """The inner diameter of the vessel in m."""
        return self._base("diameter")

    @property
    def speed(self) -> Range | None:
        """The speeds that it can turn at."""
        value: Range | None = self.get("speed", Range)
        return value

    @property
    def jacket(self) -> Range | None:
        """The temperatures that its jacket can reach."""
        value: Range | None = self.get("jacket", Range)
        return value

    @cached_property
    def working_range(self) -> tuple[Fraction | None, Fraction | None] | None:
        """The least and the most that it works with, in m3; a range in % is of its volume."""
        stated: Range | None = self.get("working_range", Range)
        if stated is None:
            return None
        scale = Fraction(1)
        if stated.dimension == "share":
            if self.volume is None:
                return None
            scale = self.volume
        ends = (None if end is None else end.base * scale for end in (stated.low, stated.high))
        low, high = ends
        return low, high

    def number(self, name: str) -> Fraction | None:
        """A bare number: power_number, flow_number, metzner_otto."""
        value = self.facts.get((name,))
        return Fraction(value) if isinstance(value, Decimal) else None

    def _base(self, name: str) -> Fraction | None:
        value: Quantity | None = self.get(name, Quantity)
        return value.base if value is not None and value.base else None
