"""A recipe: phases, charges, steps and spec, all read off its facts."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any, Final

from formula_vcs.model.amount import Accepted, Addition, Amount, BookTotal
from formula_vcs.model.facts import Facts, Path, readable
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.spec_line import SpecLine, spec_lines
from formula_vcs.model.values import dataclass, field

SHEAR_MODES: Final = ("none", "fold", "low", "medium", "high")
# Two names, and no step can have the second: no key of a file comes to lie here.
SCALE_RULES: Final = ("tip speed", "power per volume", "blend time", "gap shear")
STEP_ORDER: Final[Path] = ("step", "")
# What a step states of how it is worked, in the order in which people are told; those with a number, and all of them.
STEP_RANGES: Final = ("speed", "time", "temp", "vacuum", "rest")
STEP_VALUES: Final = ("shear", "mixer", *STEP_RANGES)
PREMIX: Final = "premix"
WEIGHT_IN_VOLUME: Final = "w/v"
MODES: Final = ("percent", "parts", "mass", WEIGHT_IN_VOLUME)  # what the amounts of a recipe may be


@dataclass(frozen=True, slots=True)
class Charge:
    """One ingredient in one phase.  ``more`` holds the facts beside its amount: for, at_most, at_least, rebuilds ..."""

    phase: str
    ingredient: str
    amount: Amount | None
    more: Mapping[str, Any]

    @property
    def key(self) -> str:
        """Name the charge as a step does: ``A/glycerin``."""
        return f"{self.phase}/{self.ingredient}"

    @property
    def path(self) -> Path:
        """The path of the charge among the facts of its recipe."""
        return ("phase", self.phase, "charge", self.ingredient)

    @property
    def balance(self) -> bool:
        """Say whether the charge fills up to the whole."""
        return self.amount is not None and self.amount.kind == "balance"


@dataclass(frozen=True, slots=True)
class Step:
    """One process instruction; a fact that is absent or was refused is None or empty."""

    id: str
    index: int
    facts: Mapping[str, Any]

    def _of(self, name: str, kind: type | tuple[type, ...]) -> Any:
        return readable(self.facts.get(name), kind)

    @property
    def into(self) -> str | None:
        """Name the vessel that the step works in."""
        value: str | None = self._of("into", str)
        return value

    @property
    def add(self) -> tuple[Addition, ...]:
        """List what the step adds."""
        return self._of("add", tuple) or ()

    @property
    def joins(self) -> tuple[str, ...]:
        """Name the vessels whose content the step takes."""
        return self._of("from", tuple) or ()

    @property
    def shear(self) -> str | None:
        """Name the shear mode, where the step states one."""
        value: str | None = self._of("shear", str)
        return value

    @property
    def mixer(self) -> str | None:
        """Name the equipment, where the step states it."""
        value: str | None = self._of("mixer", str)
        return value

    @property
    def measure(self) -> str | None:
        """Name what the step measures."""
        value: str | None = self._of("measure", str)
        return value

    @property
    def adjust(self) -> tuple[str, ...]:
        """List the charges kept for adjusting here."""
        return self._of("adjust", tuple) or ()

    @property
    def scale(self) -> str | None:
        """Name what the step's speed has to keep when it moves to another size, where the step states it."""
        value: str | None = self._of("scale", str)
        return value

    @property
    def apart_at_most(self) -> Quantity | None:
        """How far the contents that the step joins may be apart in temperature, in K."""
        value: Quantity | None = self._of("apart_at_most", Quantity)
        return value

    def span(self, name: str) -> Range | None:
        """A range of the step: speed, time, temp, accept, rest or viscosity."""
        value: Range | None = self._of(name, Range)
        return value

    @property
    def path(self) -> Path:
        """The path of the step among the facts of its recipe."""
        return ("step", self.id)


@dataclass(frozen=True)
class Recipe:
    """One product formula.  Equal to another when id and facts are."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)

    def get(self, name: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact of the header, or None."""
        return readable(self.facts.get((name,)), kind)

    @property
    def title(self) -> str:
        """The title, or the id where there is none."""
        return self.get("title") or self.id

    @property
    def product(self) -> str | None:
        """The product type."""
        value: str | None = self.get("product")
        return value

    @property
    def is_premix(self) -> bool:
        """Say whether the recipe is only ever an ingredient of others."""
        return self.product == PREMIX

    @property
    def amounts(self) -> str:
        """Say what bare numbers are: percent, parts, mass or w/v (g in 100 mL)."""
        return self.get("amounts") or "percent"

    @property
    def density(self) -> Quantity | None:
        """The density of the product as the recipe states it: in the header, else as one value of the spec."""
        stated: Quantity | None = self.get("density", Quantity)
        span = self.spec.get("density")
        return stated if stated is not None or span is None or not span.single else span.low

    @property
    def total(self) -> BookTotal | None:
        """The sum that the book claims."""
        value: BookTotal | None = self.get("total", BookTotal)
        return value

    @property
    def batch(self) -> Quantity | None:
        """The batch size that costs are quoted for."""
        value: Quantity | None = self.get("batch", Quantity)
        return value

    @property
    def pack(self) -> Quantity | None:
        """The content of one pack, a mass or a volume."""
        value: Quantity | None = self.get("pack", Quantity)
        return value

    @property
    def packaging(self) -> str | None:
        """Name the packaging that the product is filled into."""
        value: str | None = self.get("packaging")
        return value

    @property
    def yields(self) -> Quantity | None:
        """The share of what goes in that comes out of making it."""
        value: Quantity | None = self.get("yield", Quantity)
        return value

    @property
    def set_point(self) -> Quantity | None:
        """The temperature below which the product must see no high shear any more."""
        value: Quantity | None = self.get("set_point", Quantity)
        return value

    @property
    def rest_at_least(self) -> Quantity | None:
        """How long the product has to rest before its process ends."""
        value: Quantity | None = self.get("rest_at_least", Quantity)
        return value

    @cached_property
    def names(self) -> dict[str, tuple[str, ...]]:
        """The members of the header's sets: markets, claims and the areas of the body."""
        sets: dict[str, list[str]] = {"markets": [], "claims": [], "area": []}
        for path, value in self.facts.items():
            if len(path) == 2 and path[0] in sets and value is True:
                sets[path[0]].append(path[1])
        return {name: tuple(members) for name, members in sets.items()}

    @cached_property
    def own_claims(self) -> dict[str, str]:
        """The claims in words of the house's own, each with the kind of proof that it needs."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if path[0] == "claim" and len(path) == 2 and isinstance(value, str)
        }

    @property
    def claims(self) -> tuple[str, ...]:
        """All claims: those of the header's set, then those in words of the house's own."""
        return tuple(dict.fromkeys((*self.names["claims"], *self.own_claims)))

    @cached_property
    def charges(self) -> tuple[Charge, ...]:
        """The charges in the order of the file."""
        found: dict[tuple[str, str], tuple[Any, dict[str, Any]]] = {}
        for path, value in self.facts.items():
            if path[0] != "phase" or len(path) < 4 or path[2] != "charge":
                continue
            amount, more = found.get((path[1], path[3]), (None, {}))
            if len(path) == 4:
                amount = value
            else:
                more[path[4]] = value
            found[path[1], path[3]] = (amount, more)
        return tuple(
            Charge(phase, ingredient, readable(amount, Amount), more)
            for (phase, ingredient), (amount, more) in found.items()
        )

    @cached_property
    def phases(self) -> dict[str, str]:
        """The phases in the order of the file, each with its title (empty where it has none)."""
        found: dict[str, str] = {}
        for path, value in self.facts.items():
            if path[0] == "phase" and len(path) > 1:
                found.setdefault(path[1], "")
                if path[2:] == ("title",) and isinstance(value, str):
                    found[path[1]] = value
        return found

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The steps in their order."""
        order: tuple[str, ...] = self.facts.get(STEP_ORDER, ())
        inside: dict[str, dict[str, Any]] = {name: {} for name in order}
        for path, value in self.facts.items():
            if path[0] == "step" and len(path) == 3 and path[1] in inside:
                inside[path[1]][path[2]] = value
        return tuple(Step(name, index, inside[name]) for index, name in enumerate(order))

    @cached_property
    def mixers(self) -> tuple[str, ...]:
        """Name the equipment that the steps name, each once, in the order of the steps."""
        return tuple(dict.fromkeys(step.mixer for step in self.steps if step.mixer is not None))

    @cached_property
    def spec(self) -> dict[str, Range]:
        """What the finished product must measure, without what is only judged in words."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if path[0] == "spec" and len(path) == 2 and isinstance(value, Range)
        }

    @cached_property
    def spec_lines(self) -> dict[str, SpecLine]:
        """The spec line by line, those in words among them, each with its method and temperature."""
        return spec_lines(self.facts)

    @cached_property
    def accepted(self) -> dict[tuple[str, str], Accepted]:
        """The findings accepted on purpose, by rule and subject."""
        return {
            (path[1], path[2]): value
            for path, value in self.facts.items()
            if path[0] == "accept" and len(path) == 3 and isinstance(value, Accepted)
        }

    @cached_property
    def uses(self) -> tuple[str, ...]:
        """Name the ingredients that the charges name, each once, in the order of the file."""
        return tuple(dict.fromkeys(charge.ingredient for charge in self.charges))
