"""An ingredient: one raw material as bought, read off its facts."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Any, Final, NamedTuple

from formula_vcs.model.amount import Held, PartSpan, Price, decimal, held
from formula_vcs.model.derived import Derived
from formula_vcs.model.facts import Facts, Unread, readable
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, field
from formula_vcs.words.deceptive import fold
from formula_vcs.words.late_pattern import late_pattern

_HALF: Final = Decimal(50)

ORIGIN_INDICES: Final = ("natural", "natural_origin", "organic", "organic_origin")
_WATER: Final = frozenset(
    {"aqua", "water", "aqua (water)", "water (aqua)", "aqua/water", "water/aqua", "eau", "aqua/water/eau"}
)


@lru_cache(maxsize=16384)
def inci_key(name: str) -> str:
    """Fold an INCI name so that spellings of one name meet; water has one key in every language of a label.

    What only looks like a name has its key too (see `fold`): no limit is passed by with a letter of another script.
    """
    folded = fold(name)
    return "aqua" if folded in _WATER else folded


def is_water(name: str) -> bool:
    """Say whether an INCI name is water."""
    return inci_key(name) == "aqua"


class SubstanceContent(NamedTuple):
    """How much of a substance is in a material (% of it), with its name as written and its CAS numbers, if stated.

    Several numbers stand behind one another with "; ".  ``ends`` are the least and the most that it may be, where a
    supplier states a range: ``pct`` is then the middle.
    """

    pct: Fraction
    spelled: str
    cas: str
    ends: tuple[Fraction, Fraction] | None = None

    @property
    def least(self) -> Fraction:
        """The least that it may be."""
        return self.pct if self.ends is None else self.ends[0]

    @property
    def most(self) -> Fraction:
        """The most that it may be."""
        return self.pct if self.ends is None else self.ends[1]

    def part(self, share: Fraction) -> SubstanceContent:
        """A share (0 to 1) of it."""
        ends = None if self.ends is None else (self.ends[0] * share, self.ends[1] * share)
        return SubstanceContent(self.pct * share, self.spelled, joined(self.cas, ""), ends)

    def with_more(self, more: SubstanceContent, share: Fraction = Fraction(1)) -> SubstanceContent:
        """Give it with a share (0 to 1) of some more of the same substance, under its own spelling."""
        ends = None
        if self.ends is not None or more.ends is not None:
            ends = self.least + more.least * share, self.most + more.most * share
        return SubstanceContent(self.pct + more.pct * share, self.spelled, joined(self.cas, more.cas), ends)


# The classes of a material by COSMOS; their shares of it add up to 100 %.
COSMOS_CLASSES: Final = ("water", "mineral", "ppai", "cpai", "pemo", "nni")


def joined(one: str, other: str) -> str:
    """Give CAS numbers of one substance from two places, each once.

    >>> joined("56-81-5", ""), joined("5989-27-5", "138-86-3"), joined("56-81-5", "56-81-5")
    ('56-81-5', '5989-27-5; 138-86-3', '56-81-5')
    """
    if not other and ";" not in one:  # far the most
        return one
    return "; ".join(dict.fromkeys(number for part in (one, other) for number in part.split("; ") if number))


@dataclass(frozen=True)
class Ingredient:
    """One supplier's grade of a material.  Equal to another when id and facts are."""

    id: str
    facts: Facts
    file: str = field(default="", compare=False)
    readable: bool = field(default=True, compare=False)
    derived: Derived = field(default_factory=Derived, init=False, compare=False, repr=False)

    def get(self, *path: str, kind: type | tuple[type, ...] = str) -> Any:
        """One fact, or None where it is absent or was refused."""
        return readable(self.facts.get(path), kind)

    @property
    def title(self) -> str:
        """The title, or the id where there is none."""
        return self.get("title") or self.id

    @cached_property
    def recipe(self) -> str | None:
        """Name the recipe that the material is made by, where it is a premix."""
        value: str | None = self.get("recipe")
        return value

    @property
    def density(self) -> Quantity | None:
        value: Quantity | None = self.get("density", kind=Quantity)
        return value

    @cached_property
    def substances(self) -> dict[str, Decimal]:
        """The composition: INCI name to % of the material; of a range its middle."""
        return {name: decimal(held.middle) for name, held in self.held.items()}

    @cached_property
    def held(self) -> dict[str, Held]:
        """The composition with its ranges, as suppliers state them, in % of the material."""
        return held(self.stated("substances"))

    def stated(self, table: str) -> dict[str, Decimal | PartSpan]:
        """What [substances] or [allergens] states, as it is written."""
        return {
            path[1]: value
            for path, value in self.facts.items()
            if len(path) == 2 and path[0] == table and isinstance(value, Decimal | PartSpan)
        }

    @cached_property
    def ranged(self) -> bool:
        """Say whether the composition is known by ranges only."""
        return any(one.least != one.most for one in self.held.values())

    @cached_property
    def contents(self) -> tuple[tuple[str, Fraction], ...]:
        """The composition by folded INCI name, % of the material, exact."""
        return tuple((inci_key(name), Fraction(pct)) for name, pct in self.substances.items())

    @cached_property
    def inci(self) -> frozenset[str]:
        """The folded INCI names of the composition: what a label would call the material."""
        return frozenset(inci_key(name) for name in self.substances)

    @cached_property
    def holds(self) -> dict[str, SubstanceContent]:
        """All that is known to be in the material, by folded name: its substances, and what [allergens] adds."""
        return self.held_by(lambda name, _: inci_key(name))

    def held_by(self, key_of: Callable[[str, str], str]) -> dict[str, SubstanceContent]:
        """All that is known to be in the material, by a key of its name and CAS number.

        Several names of one key are added up; what stands in both tables counts once, with the larger amount.  A nano
        form has a key of its own.
        """
        found: dict[str, SubstanceContent] = {}
        for name, part in self.held.items():
            spelled = self.written(name)
            cas = self.get("substances", name, "cas") or ""
            _more(found, key_of(spelled, cas), part, spelled, cas)
        declared: dict[str, SubstanceContent] = {}
        for name, part in held(self.stated("allergens")).items():
            cas = self.get("allergens", name, "cas") or ""
            _more(declared, key_of(name, cas), part, " ".join(name.split()), cas)
        for key, said in declared.items():
            other = found.get(key)
            if other is None or other.most < said.most:
                found[key] = said._replace(cas=joined(other.cas, said.cas)) if other is not None else said
        return found

    def written(self, name: str) -> str:
        """Write the name of a substance of the composition, with the suffix of a nano form that is stated apart."""
        nano = self.facts.get(("substances", name, "nano")) is True and not inci_key(name).endswith("(nano)")
        return " ".join(name.split()) + (" (nano)" if nano else "")

    @cached_property
    def allergens(self) -> dict[str, Decimal]:
        """What [allergens] declares: name to % of the material."""
        return {name: decimal(one.middle) for name, one in held(self.stated("allergens")).items()}

    @cached_property
    def impurities(self) -> tuple[str, ...]:
        """The names of what is in the material as an impurity (``role = "impurity"``)."""
        return tuple(name for name in self.substances if self.get("substances", name, "role") == "impurity")

    @cached_property
    def functions(self) -> tuple[str, ...]:
        """What the material does in a product."""
        return tuple(path[1] for path, value in self.facts.items() if path[0] == "functions" and value is True)

    def index(self, name: str) -> Fraction | None:
        """An ISO 16128 index (natural, natural_origin, organic, organic_origin), 0 to 1."""
        value: Fraction | None = self.get("origin", name, kind=Fraction)
        return value

    @property
    def formulation_water(self) -> bool:
        """Say whether the material is plain water added by the maker."""
        return self.facts.get(("origin", "formulation_water")) is True

    def number(self, name: str) -> Fraction | None:
        """A bare number of the file's top: active, hlb, required_hlb."""
        value = self.facts.get((name,))
        return Fraction(value) if isinstance(value, Decimal) else None

    @property
    def prices(self) -> tuple[Price, ...]:
        """The price list."""
        return self.get("price", kind=tuple) or ()

    @cached_property
    def called(self) -> frozenset[str]:
        """The names that `after`, `wet_with` and the like may mean it by: id, functions, "water" if half is."""
        watery = sum((pct for name, pct in self.substances.items() if is_water(name)), Decimal(0))
        names = {self.id.casefold(), *(name.casefold() for name in self.functions)}
        return frozenset({*names, "water"} if watery >= _HALF else names)

    @cached_property
    def care(self) -> dict[str, Any]:
        """What [handling] asks of the process, by name; names in a list as a tuple.  Empty for most materials."""
        found: dict[str, Any] = {}
        for path, value in self.facts.items():
            if path[0] != "handling" or isinstance(value, Unread) or path[1] == "hazards":
                continue
            if len(path) == 3 and value is True:
                found[path[1]] = (*found.get(path[1], ()), path[2])
            elif len(path) == 2:
                found[path[1]] = value
        return found

    def handling(self, name: str) -> str | None:
        """One fact of handling that is a word: shear_at_most, shear_at_least, note."""
        value: str | None = self.get("handling", name)
        return value


def _more(into: dict[str, SubstanceContent], key: str, part: Held, spelled: str, cas: str) -> None:
    ends = None if part.least == part.most else (part.least, part.most)
    more = SubstanceContent(part.middle, spelled, cas, ends)
    into[key] = into[key].with_more(more) if key in into else more


def main_substance(ingredient: Ingredient | None) -> str | None:
    """Name, folded, the substance that an ingredient mostly is: what grades of one material have in common."""
    name = main_name(ingredient)
    return None if name is None else name.casefold()


def main_name(ingredient: Ingredient | None) -> str | None:
    """Name the substance that an ingredient mostly is, water aside, as its file writes it.

    An extract in a solvent is the extract: by its glycol it would be another grade of that glycol.
    """
    if ingredient is None or not ingredient.substances:
        return None
    dry = {name: pct for name, pct in ingredient.substances.items() if not is_water(name)} or ingredient.substances
    most = max(sorted(dry), key=lambda name: dry[name])
    drawn = [name for name in sorted(dry) if _EXTRACT.search(name)] if inci_key(most) in _CARRIERS else []
    return max(drawn, key=lambda name: dry[name]) if drawn else most


# Solvents that plants and ferments are drawn into, and the words of INCI names for what is drawn (common practice).
_CARRIERS: Final = frozenset(
    {"glycerin", "propylene glycol", "butylene glycol", "propanediol", "pentylene glycol", "dipropylene glycol",
     "alcohol", "alcohol denat.", "caprylic/capric triglyceride", "helianthus annuus seed oil", "maltodextrin"}
)  # fmt: skip
_EXTRACT: Final = late_pattern(r"\b(?:extract|juice|ferment|filtrate|lysate)\b", re.IGNORECASE)
