"""The ingredient list as a market wants it: with allergens, perfume and aroma, nano forms, and without what is none.

Regulation (EC) No 1223/2009, Article 19(1)(g) (order and colorants: `figures/label.py`; perfume and aroma as "parfum"
and "aroma", allergens of Annex III besides; nano suffix from memory), and 21 CFR 701.3(a), (c), (d), (f), (l): names
(`us_rows.py`); the active ingredients of a drug before all others; fragrance and flavor may be named as such; the line
at 1 % is "not above" (from memory); incidental ingredients (from memory).
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED
from formula_vcs.figures.ingredient_list import LabelLine, ListPart, colorant_of, colour_index
from formula_vcs.law.compliance import ApplicableRow, Compliance, compliance_of, in_force
from formula_vcs.law.identity import known_as, law_key
from formula_vcs.law.otc_drug import UNITED_STATES, actives
from formula_vcs.law.us_rows import undecided, us_name
from formula_vcs.model.amount import Held
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.law_row import LawRow
from formula_vcs.model.values import dataclass, field
from formula_vcs.words.numbers import dot, shown

# What a charge's `for` says, and the word of each market for it.
MIXTURES: Final = {
    "parfum": {"EU": "Parfum", "US": "Fragrance"},
    "aroma": {"EU": "Aroma", "US": "Flavor"},
}


_NANO: Final = " (nano)"
_LAKE: Final = " lake"


_ONE: Final = Fraction(1)


@dataclass(slots=True)
class _Name:
    """A name of the list as it is put together; ``colour`` until something else brings it.

    ``parts`` are what brings it: how much of it is in something, and the share of that in the product.
    """

    spelled: str
    colour: bool = True
    parts: list[tuple[Held, Fraction]] = field(default_factory=list)

    @property
    def pct(self) -> Fraction:
        """Give % w/w of the product."""
        return dot((held.middle, share) for held, share in self.parts)

    @property
    def ends(self) -> tuple[Fraction, Fraction] | None:
        """The least and the most of it, where a range leaves that open."""
        if all(held.least == held.most for held, _ in self.parts):
            return None
        least = dot((held.least, share) for held, share in self.parts)
        most = dot((held.most, share) for held, share in self.parts)
        return None if least == most else (least, most)


class _Listed(NamedTuple):
    """A substance of a material: its name as written and as the law has it, as the glossary does, how much is in it."""

    spelled: str
    cas: str
    key: str
    glossary: str
    held: Held
    colour: bool


@dataclass(frozen=True, slots=True)
class Allergen:
    """An allergen of the packs in the product: the printed name, its sum in % w/w, the threshold, and the row."""

    printed: str
    pct: Fraction
    threshold: Fraction
    row: LawRow
    keys: tuple[str, ...]

    @property
    def named(self) -> bool:
        """Say whether the list has to name it."""
        return self.pct > self.threshold


def allergens(found: Compliance, hits: list[ApplicableRow]) -> list[Allergen]:
    """The allergens in the product; members of a group are added up under one name."""
    contact = found.product.contact if found.product is not None else ""
    listed: list[Allergen] = []
    for hit in hits:
        threshold = hit.row.threshold(contact)
        if hit.row.kind != "name" or threshold is None:
            continue
        groups = [hit.keys] if hit.row.printed else [[key] for key in hit.keys]
        for keys in groups:
            pct = sum((found.totals[key].most for key in keys), Fraction(0))
            printed = hit.row.printed or found.spelled(keys[0])
            listed.append(Allergen(printed, pct, threshold, hit.row, tuple(keys)))
    return listed


def ingredient_list(sums: Breakdown, day: datetime.date, market: str) -> tuple[LabelLine, ...]:
    """The list for a market on a day; equal shares stand in the order of their names, so it never flickers."""
    return sums.cached(("ingredient list", market, day), lambda: _ingredient_list(sums, day, market))


def _ingredient_list(sums: Breakdown, day: datetime.date, market: str) -> tuple[LabelLine, ...]:
    found = compliance_of(sums, market)
    named = [allergen for allergen in allergens(found, in_force(found, day)) if allergen.named]
    groups = {key: allergen.printed for allergen in named for key in allergen.keys}
    drug = actives(found, day) if market == UNITED_STATES else ()
    names: dict[str, _Name] = {}
    _Names(found, market, groups, frozenset(active.key for active in drug), names).collect()
    lines = [
        LabelLine(name.spelled, pct, _part(pct, market, colour=name.colour), name.ends)
        for name in names.values()
        if (pct := name.pct) > 0
    ]
    listed = {law_key(line.inci) for line in lines}
    # constituents of what is listed already, so they stand behind it, among the names whose order is free
    constituents = [
        LabelLine(allergen.printed, allergen.pct, "free")
        for allergen in named
        if law_key(allergen.printed) not in listed
    ]
    ordered, free, colours = (_sorted(lines, part) for part in ("ordered", "free", "colorant"))
    apart = (LabelLine(active.printed, active.pct, "active") for active in drug)
    return (*apart, *ordered, *free, *_sorted(constituents, "free"), *colours)


def printed(lines: Iterable[LabelLine]) -> str:
    """A list as it would be printed, the active ingredients of a drug apart from the others."""
    lines = list(lines)
    others = ", ".join(line.inci for line in lines if line.part != "active")
    apart = ", ".join(f"{line.inci} {shown(line.pct, 0, 4)} %" for line in lines if line.part == "active")
    return f"Active ingredients: {apart}. Inactive ingredients: {others}" if apart else others


def unsure_names(sums: Breakdown, market: str) -> list[str]:
    """Say which names of the list for a market cannot be told by what is stated."""
    return list(undecided(compliance_of(sums, market))) if market == UNITED_STATES else []


def _sorted(lines: list[LabelLine], part: str) -> list[LabelLine]:
    return sorted((line for line in lines if line.part == part), key=lambda line: (-line.pct, line.inci))


def _part(pct: Fraction, market: str, *, colour: bool) -> ListPart:
    if colour:
        return "colorant"
    above = pct > 1 if market == "US" else pct >= 1
    return "ordered" if above else "free"


@dataclass(frozen=True, slots=True)
class _Names:
    """The names of one list as they are put together.

    ``printed`` are the names of groups by folded name, ``apart`` the folded names of what has a list of its own.
    """

    found: Compliance
    market: str
    printed: dict[str, str]
    apart: frozenset[str]
    names: dict[str, _Name]

    def collect(self) -> None:
        """Add up what the charges bring, by the name that the list has for it."""
        shares: dict[str, Fraction] = {}
        for line in self.found.sums.composition.lines:
            mixture = MIXTURES.get(str(line.charge.more.get("for", "")).casefold())
            if mixture is not None:
                spelled = mixture.get(self.market, mixture["EU"])
                key = inci_key(spelled) if self.market == UNITED_STATES else law_key(spelled)
                self._add(key, spelled, Held(*[line.pct] * 3), _ONE, colour=False)
            else:
                known = shares.get(line.charge.ingredient, Fraction(0))
                shares[line.charge.ingredient] = known + line.pct / HUNDRED
        for name, share in _seen_through(self.found, shares).items():
            material = self.found.formula.ingredients.get(name)
            if material is not None:
                self._substances(material, share)

    def _substances(self, ingredient: Ingredient, share: Fraction) -> None:
        for one in ingredient.derived.cached("listed", lambda: tuple(_listed(ingredient))):
            if one.key in self.apart:
                continue
            if self.market == UNITED_STATES:
                # two colours of one number are two names there
                spelled = us_name(self.found.law, one.key, one.cas, one.spelled)
                key = inci_key(spelled)
            elif one.key in self.printed:
                spelled = self.printed[one.key]
                key = law_key(spelled)
            else:
                key, spelled = one.key, one.glossary
            self._add(key, spelled, one.held, share, colour=one.colour)

    def _add(self, key: str, spelled: str, held: Held, share: Fraction, *, colour: bool) -> None:
        known = self.names.setdefault(key, _Name(spelled))
        known.parts.append((held, share))
        known.colour = known.colour and colour


def _listed(ingredient: Ingredient) -> Iterator[_Listed]:
    """What of a material stands in a list: all of its composition but what is in it without a purpose."""
    for inci, held in ingredient.held.items():
        if ingredient.get("substances", inci, "role") is not None:
            continue
        spelled = " ".join(inci.split())
        if ingredient.facts.get(("substances", inci, "nano")) is True and not spelled.casefold().endswith("(nano)"):
            spelled = f"{spelled} (nano)"
        cas = ingredient.get("substances", inci, "cas") or ""
        key = law_key(spelled, cas)
        colour = colour_index(key) or key.endswith(_LAKE) or colorant_of(ingredient, held.middle)
        yield _Listed(spelled, cas, key, _glossary(spelled, cas), held, colour)


def _glossary(spelled: str, cas: str) -> str:
    """The glossary's name (Article 33) for one that another list, trade or language has; others as they stand."""
    found = known_as(spelled, cas)
    if found is None or found.how != "other name":
        return spelled
    return f"{found.inci}{_NANO}" if spelled.casefold().endswith(_NANO) else found.inci


def _seen_through(found: Compliance, shares: dict[str, Fraction]) -> dict[str, Fraction]:
    """The raw materials in some charges (shares of the product, 0 to 1), each premix opened once."""
    for name in reversed(found.formula.order):
        premix = found.formula.premix_of(name)
        if premix is None or name not in shares:
            continue
        share = shares.pop(name)
        for inner, pct in found.sums.premix(premix.id).by_ingredient().items():
            shares[inner] = shares.get(inner, Fraction(0)) + share * pct / HUNDRED
    return shares
