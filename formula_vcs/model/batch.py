"""A batch: one making of a recipe, as it was planned and recorded, read off the facts of its file."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, Final, NamedTuple

from formula_vcs.model.facts import Facts, Path, readable
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_ORDER, STEP_VALUES
from formula_vcs.model.values import dataclass, field

# What a recipe's step states and a batch can say was really done.
DONE: Final = (*STEP_VALUES, "measured", "viscosity")


@dataclass(frozen=True, slots=True)
class Portion:
    """A part of a charge: from one lot, or for one step; ``target`` and ``step`` where the sheet asked for them."""

    lot: str | None
    weighed: Quantity | None
    target: Quantity | None
    step: str | None
    path: Path
    balance: str | None = None


class Compared(NamedTuple):
    """A mass that was weighed and the target that it is held against, both in kg; ``path`` is where it is written."""

    weighed: Fraction
    target: Fraction
    balance: str | None
    path: Path


@dataclass(frozen=True)
class BatchCharge:
    """One charge of a batch: what was to be weighed, what was, and from which lots."""

    phase: str
    ingredient: str
    facts: Mapping[Path, Any]

    def _of(self, name: str, kind: type | tuple[type, ...]) -> Any:
        return readable(self.facts.get((name,)), kind)

    @cached_property
    def key(self) -> str:
        """Name the charge as a step does: ``A/glycerin``."""
        return f"{self.phase}/{self.ingredient}"

    @property
    def path(self) -> Path:
        """The path of the charge among the facts of its batch."""
        return ("phase", self.phase, "charge", self.ingredient)

    @cached_property
    def target(self) -> Quantity | None:
        """The mass that was to be weighed."""
        value: Quantity | None = self._of("target", Quantity)
        return value

    @cached_property
    def portions(self) -> tuple[Portion, ...]:
        """The rows of ``lots``, where the charge has several."""
        numbers = dict.fromkeys(path[1] for path in self.facts if path[0] == "lots" and len(path) > 1)
        return tuple(self._portion(number) for number in numbers)

    def _portion(self, number: str) -> Portion:
        def at(name: str, kind: type) -> Any:
            return readable(self.facts.get(("lots", number, name)), kind)

        path = (*self.path, "lots", number)
        return Portion(
            at("lot", str), at("weighed", Quantity), at("target", Quantity), at("step", str), path, at("balance", str)
        )

    @cached_property
    def weighings(self) -> tuple[Portion, ...]:
        """What was weighed, lot by lot: the rows of ``lots``, else the charge as one portion."""
        rows = self.portions
        if rows:
            return rows
        weighed = self._of("weighed", Quantity)
        return (Portion(self._of("lot", str), weighed, self.target, None, self.path, self.balance),)

    @cached_property
    def weighed(self) -> Fraction | None:
        """All that was weighed in kg; None where a portion, or all of it, is not filled in."""
        stated: Quantity | None = self._of("weighed", Quantity)
        if stated is not None:
            return stated.base
        masses = [portion.weighed for portion in self.portions]
        if not masses or any(mass is None for mass in masses):
            return None
        return sum((mass.base for mass in masses if mass is not None), Fraction(0))

    @cached_property
    def compared(self) -> tuple[Compared, ...]:
        """What is held against a target: row by row where every row of ``lots`` has its own, else the whole."""
        rows = self.portions
        if rows and all(row.target is not None for row in rows):
            return tuple(
                Compared(row.weighed.base, row.target.base, row.balance, (*row.path, "weighed"))
                for row in rows
                if row.weighed is not None and row.target is not None
            )
        if self.weighed is None or self.target is None:
            return ()
        return (Compared(self.weighed, self.target.base, self.balance, (*self.path, "lots" if rows else "weighed")),)

    @property
    def lots(self) -> tuple[str, ...]:
        """Name the lots, each once, in the order of the file."""
        return tuple(dict.fromkeys(portion.lot for portion in self.weighings if portion.lot is not None))

    @property
    def balance(self) -> str | None:
        """Name the balance that it was to be weighed on."""
        value: str | None = self._of("balance", str)
        return value

    @property
    def weighed_by(self) -> str | None:
        """Name who weighed it, where that is another than who made the batch."""
        value: str | None = self._of("by", str)
        return value

    @property
    def checked_by(self) -> str | None:
        """Name who checked the weighing."""
        value: str | None = self._of("checked_by", str)
        return value


@dataclass(frozen=True)
class BatchStep:
    """One step as it was done.  ``again`` is 1, or 2, 3 ... where a step was done more than once."""

    name: str
    index: int
    facts: Mapping[Path, Any]

    @property
    def id(self) -> str:
        """The id of the recipe's step."""
        return self.name.partition(" ")[0]

    @property
    def again(self) -> int:
        """Count how often the step had been done by then, from 1."""
        rest = self.name.partition(" ")[2]
        return int(rest) if rest.isdigit() else 1

    @property
    def path(self) -> Path:
        """The path of the step among the facts of its batch."""
        return ("step", self.name)

    @cached_property
    def target(self) -> dict[str, Range | str]:
        """What the step was to be done with, scaled to the equipment: speed, time, temp, shear ..."""
        found = {path[1]: value for path, value in self.facts.items() if path[0] == "target" and len(path) == 2}
        return {name: value for name, value in found.items() if isinstance(value, Range | str)}

    @cached_property
    def done(self) -> dict[str, Range | str]:
        """What was really done, by the names of `DONE`; one value is a range with both ends alike."""
        found = {name: self.facts.get((name,)) for name in DONE}
        return {name: value for name, value in found.items() if isinstance(value, Range | str)}

    def moment(self, name: str) -> datetime.datetime | None:
        """Give ``started`` or ``ended``."""
        value: datetime.datetime | None = readable(self.facts.get((name,)), datetime.datetime)
        return value

    @property
    def done_by(self) -> str | None:
        """Name who did it."""
        value: str | None = readable(self.facts.get(("done_by",)), str)
        return value

    @property
    def checked_by(self) -> str | None:
        """Name who checked it."""
        value: str | None = readable(self.facts.get(("checked_by",)), str)
        return value

    @property
    def recorded(self) -> bool:
        """Say whether anything of it was filled in."""
        return any(path[0] not in ("target", "scaled") for path in self.facts)

    @property
    def scaled(self) -> str | None:
        """Say how the set points were scaled from the recipe's, where they were."""
        value: str | None = readable(self.facts.get(("scaled",)), str)
        return value


@dataclass(frozen=True)
class Deviation:
    """What did not go as planned, with who decided that the batch may stand."""

    about: str
    why: str
    decided_by: str


@dataclass(frozen=True)
class Batch:
    """One making of a recipe."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)

    def get(self, name: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact of the header, or None where it is absent or was refused."""
        return readable(self.facts.get((name,)), kind)

    @property
    def recipe(self) -> str | None:
        """Name the recipe."""
        value: str | None = self.get("recipe")
        return value

    @property
    def commit(self) -> str | None:
        """The commit that the recipe was taken from."""
        value: str | None = self.get("commit")
        return value

    @property
    def hash(self) -> str | None:
        """The content hash of the recipe that was made."""
        value: str | None = self.get("hash")
        return value

    @property
    def size(self) -> Quantity | None:
        """The mass that the targets add up to."""
        value: Quantity | None = self.get("size", Quantity)
        return value

    @property
    def date(self) -> datetime.date | None:
        """The day on which it was made."""
        value: datetime.date | None = self.get("date", datetime.date)
        return value

    @property
    def closed(self) -> datetime.date | None:
        """The day on which the record was finished; None while it is open."""
        value: datetime.date | None = self.get("closed", datetime.date)
        return value

    @property
    def made(self) -> Quantity | None:
        """The mass that came out."""
        value: Quantity | None = self.get("made", Quantity)
        return value

    @property
    def pack(self) -> Quantity | None:
        """The nominal content of one pack, where the batch states it."""
        value: Quantity | None = self.get("pack", Quantity)
        return value

    @property
    def packs(self) -> int | None:
        """Count the packs that were filled."""
        value: Decimal | None = self.get("packs", Decimal)
        return None if value is None else int(value)

    @property
    def made_by(self) -> str | None:
        """Name who made it."""
        value: str | None = self.get("made_by")
        return value

    @property
    def checked_by(self) -> str | None:
        """Name who checked it."""
        value: str | None = self.get("checked_by")
        return value

    @cached_property
    def equipment(self) -> tuple[str, ...]:
        """Name the equipment that it was made on."""
        return tuple(path[1] for path, value in self.facts.items() if path[0] == "equipment" and value is True)

    @cached_property
    def without_claims(self) -> tuple[str, ...]:
        """Name the claims that it was made without: nobody could say yet whether they hold."""
        return tuple(path[1] for path, value in self.facts.items() if path[0] == "without_claims" and value is True)

    @cached_property
    def charges(self) -> tuple[BatchCharge, ...]:
        """The charges in the order of the file."""
        found: dict[tuple[str, str], dict[Path, Any]] = {}
        for path, value in self.facts.items():
            if path[0] == "phase" and len(path) > 4 and path[2] == "charge":
                found.setdefault((path[1], path[3]), {})[path[4:]] = value
        return tuple(BatchCharge(*key, facts) for key, facts in found.items())

    @cached_property
    def steps(self) -> tuple[BatchStep, ...]:
        """The steps in the order in which they were done."""
        order: tuple[str, ...] = self.facts.get(STEP_ORDER, ())
        inside: dict[str, dict[Path, Any]] = {name: {} for name in order}
        for path, value in self.facts.items():
            if path[0] == "step" and len(path) > 2 and path[1] in inside:
                inside[path[1]][path[2:]] = value
        return tuple(BatchStep(name, index, inside[name]) for index, name in enumerate(order))

    @cached_property
    def results(self) -> dict[str, Quantity]:
        """What was measured on the product, by the names of the recipe's spec."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if path[0] == "result" and len(path) == 2 and isinstance(value, Quantity)
        }

    @cached_property
    def judged(self) -> dict[str, bool]:
        """Give of the spec's words whether the product conforms, as somebody judged."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if path[0] == "result" and len(path) == 2 and isinstance(value, bool)
        }

    def beside(self, result: str, name: str, kind: type | tuple[type, ...] = str) -> Any:
        """What stands beside a result: seen, method, temp, by or note; None where it does not."""
        return readable(self.facts.get(("result", result, name)), kind)

    @cached_property
    def deviations(self) -> tuple[Deviation, ...]:
        """What is noted not to have gone as planned."""
        numbers = dict.fromkeys(path[1] for path in self.facts if path[0] == "deviation" and len(path) == 3)
        rows = ([readable(self.facts.get(("deviation", n, k)), str) or "" for k in _DEVIATION] for n in numbers)
        return tuple(Deviation(*row) for row in rows)

    @cached_property
    def lots(self) -> tuple[str, ...]:
        """Name all lots that went in, each once."""
        return tuple(dict.fromkeys(lot for charge in self.charges for lot in charge.lots))


_DEVIATION: Final = ("about", "why", "decided_by")
