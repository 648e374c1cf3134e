"""What the packs in force say about one recipe: its product type, its substances, the rows that speak of them."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED, ChargeShare
from formula_vcs.figures.tolerance import Tolerance, tolerance_of
from formula_vcs.law.functions import does
from formula_vcs.law.identity import entry_of, identify, law_key
from formula_vcs.law.pack_rows import rows
from formula_vcs.law.packs_in_force import Law, law_of, names_by_cas, product_of
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient, SubstanceContent, inci_key
from formula_vcs.model.law_row import LawRow, Product
from formula_vcs.model.product import completed, share_mixed
from formula_vcs.model.recipe import Charge
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.model.workspace import Workspace

RULES: str = "rules"
_ALCOHOLS = frozenset({"alcohol", "alcohol denat.", "alcohol denat", "ethanol", "sd alcohol 40-b"})
_WATER = frozenset({"aqua"})
_FIFTH, _HALF = 20, 50


@dataclass
class ApplicableRow:
    """A row, and the substances of the recipe (folded names) that it speaks of."""

    row: LawRow
    keys: list[str] = field(default_factory=list)


class Compliance:
    """One recipe before the packs in force, each part worked out when first asked for."""

    def __init__(self, formula: Formula, sums: Breakdown, market: str = "", other: _Other | None = None) -> None:
        """Take the formula and its sums; ``market`` looks at one market whatever the recipe names.

        ``other`` is what the product shall be instead of what it is, and who has worked out the rest.
        """
        self._other = other
        self.formula = formula
        self.sums = sums
        self._market = market
        self._contents: dict[str, dict[str, SubstanceContent]] = {}
        self._tolerances: dict[str, Tolerance] = {}

    @cached_property
    def markets(self) -> tuple[str, ...]:
        """Name the recipe's markets, or the workspace's where it names none."""
        return (self._market,) if self._market else markets(self.formula)

    @cached_property
    def law(self) -> Law:
        """The packs in force: those of the markets, and those that the workspace names."""
        return law_of(self.markets, self.formula.workspace.names["packs"])

    @cached_property
    def product(self) -> Product | None:
        """What the product is, as its header completes its type; None where that is missing or not known."""
        if self._other is not None:
            return self._other.product
        found = product_of(self.formula.recipe)
        silent = ("hydroalcoholic",) not in self.formula.recipe.facts
        return completed(found, hydroalcoholic=True) if found is not None and silent and self.on_alcohol else found

    @property
    def alcoholic(self) -> bool:
        """Say whether ethanol is in the product, as far as its materials state it."""
        return self._share(_ALCOHOLS) > 0

    @property
    def on_alcohol(self) -> bool:
        """Say whether a product is plainly made on ethanol and water (common practice: a fifth, and half together)."""
        alcohol = self._share(_ALCOHOLS)
        return alcohol >= _FIFTH and alcohol + self._share(_WATER) >= _HALF

    def _share(self, keys: frozenset[str]) -> Fraction:
        return sum((self.totals[key].pct for key in keys if key in self.totals), Fraction(0))

    @property
    def product_name(self) -> str:
        """Name the product type as the recipe does, with where it stays."""
        named = self.formula.recipe.product or "product"
        contact = self.product.contact if self.product is not None else ""
        return f"{named} ({contact})" if contact and contact not in named else named

    @property
    def a_product(self) -> str:
        """Name the product type with its article."""
        name = self.product_name
        return f"{'an' if name[:1].casefold() in 'aeiou' else 'a'} {name}"

    def share_of(self, row: LawRow) -> Fraction:
        """The share of the product in what a row counts in: 1, or less where it is mixed before use."""
        stated = self.formula.recipe.get("mixed") if row.mixed else None
        return (share_mixed(stated) if stated is not None else None) or Fraction(1)

    def tolerance(self, charge: Charge) -> Tolerance:
        """The weighing tolerance of a charge of the recipe."""
        known = self._tolerances.get(charge.key)
        if known is None:
            known = tolerance_of(charge, self.formula.ingredients.get(charge.ingredient), self.formula.workspace)
            self._tolerances[charge.key] = known
        return known

    def content(self, ingredient: str) -> dict[str, SubstanceContent]:
        """All that is in a material in % of it, premixes seen through."""
        if not self._contents:
            # inner premixes first, so that none asks for one that is not known: however deep they are nested, and
            # where one contains itself it counts as empty there
            for name in self.formula.order:
                self._contents[name] = {}
                self._contents[name] = self._content(name)
        if ingredient not in self._contents:
            self._contents[ingredient] = {}  # a premix may contain itself by way of one that comes before it
            self._contents[ingredient] = self._content(ingredient)
        return self._contents[ingredient]

    def _content(self, ingredient: str) -> dict[str, SubstanceContent]:
        found = self.formula.ingredients.get(ingredient)
        if found is None:
            return {}
        premix = self.formula.premix_of(ingredient) if ingredient in self.formula.order else None
        if premix is None:
            return substances_of(found)
        merged: dict[str, SubstanceContent] = {}
        for inner, pct in self.sums.premix(premix.id).by_ingredient().items():
            _merge(merged, self.content(inner), pct / HUNDRED)
        return merged

    @cached_property
    def totals(self) -> dict[str, SubstanceContent]:
        """All that is in the product in % w/w, from every source."""
        if self._other is not None:
            return self._other.of.totals
        return self.sums.cached("totals", self._totals)

    def _totals(self) -> dict[str, SubstanceContent]:
        for name in self.formula.order:  # inner premixes first: the walk stays flat
            self.content(name)
        merged: dict[str, SubstanceContent] = {}
        for line in self.sums.composition.lines:
            _merge(merged, self.content(line.charge.ingredient), line.pct / HUNDRED)
        return merged

    @cached_property
    def house(self) -> tuple[LawRow, ...]:
        """The rows of the workspace's own packs."""
        return house_rows(self.formula.workspace)

    @cached_property
    def hits(self) -> list[ApplicableRow]:
        """The rows that speak of something in the product and of this kind of product, in no order of days."""
        if self.product is None:
            return []
        return [meant for hit in self.spoken if (meant := self._meant(hit)) is not None]

    @cached_property
    def spoken(self) -> list[ApplicableRow]:
        """The rows that speak of something in the product, whatever kind of product they are about."""
        if self._other is not None:
            return [hit for hit in self._other.of.spoken if (hit.row.id, hit.row.pack) in self._other.rows]
        if not (self.law.packs or self.house):
            return []
        found: dict[tuple[str, str], ApplicableRow] = {}
        for key, held in self.totals.items():
            if held.pct <= 0:
                continue
            for row in self._about(key, held):
                _note(found, row, key)
        for row in (*self.law.general, *(row for row in self.house if not row.names and not row.cas)):
            found[row.id, row.pack] = ApplicableRow(row)
        return list(found.values())

    def _about(self, key: str, held: SubstanceContent) -> Iterator[LawRow]:
        """The rows about a substance: by the name that it means, by the name as written, by each CAS number."""
        names, numbers = (key, inci_key(held.spelled)), tuple(filter(None, held.cas.split("; ")))
        yield from self.law.of_substance(names, numbers)
        for row in self.house:
            if not set(names).isdisjoint(row.names) or not set(numbers).isdisjoint(row.cas):
                yield row

    def listed(self, key: str, held: SubstanceContent, pack: str) -> bool:
        """Say whether a pack has a row for a substance that is more than a hint."""
        return any(row.pack == pack and row.kind != "hint" for row in self._about(key, held))

    def as_a(self, product: Product, rows: frozenset[tuple[str, str]]) -> Compliance:
        """The same recipe as if it were another product, before some rows only (their ids and packs)."""
        return Compliance(self.formula, self.sums, self._market, _Other(self, product, rows))

    def _meant(self, hit: ApplicableRow) -> ApplicableRow | None:
        """A row that is about this product and what the substance does in it, None where it is not."""
        row = hit.row
        if self.product is None or not self.product.under(row):
            return None
        if (
            row.kind not in ("together", "active")
            and row.others
            and not 0 < len(set(hit.keys).intersection(row.others)) < len(hit.keys)
        ):
            return None
        if row.unless_function:
            return self._as_not_used(hit)
        return self._as_used(hit) if row.function else hit

    def _as_not_used(self, hit: ApplicableRow) -> ApplicableRow | None:
        """A row about every function but one: nothing where that is it, or may be, unless the row then warns."""
        row = hit.row
        said = {does for key in hit.keys for does in self._uses(key, row.unless_function)}
        if said == {False}:
            return hit
        return (
            _softer(hit, f"unless it is a {row.unless_function}") if None in said and row.unstated == "warn" else None
        )

    def _as_used(self, hit: ApplicableRow) -> ApplicableRow | None:
        """A row about a function, as it is where no material says what the substance is there for."""
        row = hit.row
        said = {does for key in hit.keys for does in self._uses(key, row.function)}
        if True in said or (None in said and not row.unstated):
            return hit
        if None in said and row.unstated == "warn":
            return _softer(hit, f"unless it is no {row.function}")
        return None

    def _uses(self, key: str, function: str) -> Iterator[bool | None]:
        """Say of each material that brings a substance whether it is for a function; None where it states none."""
        for name in self.sums.leaves:
            found = self.formula.ingredients.get(name)
            if found is not None and key in substances_of(found):
                yield does(found, key, function)

    def used_as(self, key: str, function: str) -> bool:
        """Say whether a material brings a substance in some function, or says nothing of its functions."""
        return any(does is not False for does in self._uses(key, function))

    @cached_property
    def traces(self) -> frozenset[str]:
        """Name what is in the product as a declared impurity alone (folded names): Article 17 is about that."""
        leaves = [found for name in self.sums.leaves if (found := self.formula.ingredients.get(name)) is not None]
        declared = {key for material in leaves for key in impurities_of(material)}
        return frozenset(declared.difference(key for m in leaves for key in parts_of(m)))

    def spelled(self, key: str) -> str:
        """A substance's name as the recipe's materials write it."""
        held = self.totals.get(key)
        return held.spelled if held is not None else key

    def ends(self, key: str) -> tuple[Fraction, Fraction]:
        """The least and the most of a substance in the product, in % w/w, as compositions are stated."""
        held = self.totals.get(key)
        return (Fraction(0), Fraction(0)) if held is None else (held.least, held.most)

    def by_number(self, key: str, row: LawRow) -> str:
        """Say by which CAS number a row has a substance, where that is another one than its name's; else nothing."""
        held = self.totals.get(key)
        if held is None or not {key, inci_key(held.spelled)}.isdisjoint(row.names):
            return ""
        entry = entry_of(identify(held.spelled).inci)
        foreign = [number for number in held.cas.split("; ") if number in row.cas]
        strange = bool(entry and entry.cas and foreign and foreign[0] not in entry.cas)
        return f", by the CAS number {foreign[0]} that is stated with it," if strange else ""

    def registered(self, key: str) -> str:
        """The name that the packs know a substance by: its own, or that of its CAS number."""
        if self.law.knows(key):
            return key
        held = self.totals.get(key)
        numbers = held.cas.split("; ") if held is not None else ()
        return next((names_by_cas()[number] for number in numbers if number in names_by_cas()), key)

    def lines_with(self, keys: list[str]) -> Iterator[tuple[ChargeShare, Fraction]]:
        """The charges that bring any of some substances, each with what it brings in % of the product."""
        for line in self.sums.composition.lines:
            content = self.content(line.charge.ingredient)
            brought = sum((content[key].pct for key in keys if key in content), Fraction(0))
            if brought:
                yield line, line.pct * brought / HUNDRED

    def main_charge(self, keys: list[str]) -> tuple[str, ...]:
        """The path of the charge that brings most of some substances, the header's markets where none does."""
        found = max(self.lines_with(keys), key=lambda pair: pair[1], default=None)
        return found[0].charge.path if found is not None else ("product",)


def substances_of(ingredient: Ingredient) -> dict[str, SubstanceContent]:
    """All that is known to be in a material, by the names under which the law has it."""
    return ingredient.derived.cached("substances_of", lambda: ingredient.held_by(law_key))


def impurities_of(ingredient: Ingredient) -> frozenset[str]:
    """Name what is in a material as a declared impurity, as the law has it."""

    def named() -> frozenset[str]:
        numbers = {name: ingredient.get("substances", name, "cas") or "" for name in ingredient.impurities}
        return frozenset(law_key(ingredient.written(name), cas) for name, cas in numbers.items())

    return ingredient.derived.cached("impurities_of", named)


def parts_of(ingredient: Ingredient) -> dict[str, SubstanceContent]:
    """What is in a material and no declared impurity, by the names under which the law has it."""
    traces = impurities_of(ingredient)
    return {key: held for key, held in substances_of(ingredient).items() if key not in traces}


class _Other(NamedTuple):
    """Another product that a recipe is judged as."""

    of: Compliance
    product: Product
    rows: frozenset[tuple[str, str]]


def _softer(hit: ApplicableRow, unless: str) -> ApplicableRow:
    """A row as a warning that asks what a substance is there for."""
    ask = f"{unless}: state its functions"
    return ApplicableRow(
        replace(hit.row, severity="warn", note=f"{hit.row.note}; {ask}" if hit.row.note else ask), hit.keys
    )


def _note(found: dict[tuple[str, str], ApplicableRow], row: LawRow, key: str) -> None:
    keys = found.setdefault((row.id, row.pack), ApplicableRow(row)).keys
    if key not in keys:
        keys.append(key)


def _merge(into: dict[str, SubstanceContent], content: dict[str, SubstanceContent], share: Fraction) -> None:
    for key, held in content.items():
        known = into.get(key)
        into[key] = held.part(share) if known is None else known.with_more(held, share)


def compliance_of(sums: Breakdown, market: str = "") -> Compliance:
    """A recipe before the packs of its markets, or of one market, worked out once for all who ask."""
    asked = (market,) if market else markets(sums.formula)
    return sums.cached(("compliance", asked), lambda: Compliance(sums.formula, sums, market))


def markets(formula: Formula) -> tuple[str, ...]:
    """Name a recipe's markets, or the workspace's where it names none."""
    return formula.recipe.names["markets"] or formula.workspace.names["markets"]


def house_rows(workspace: Workspace) -> tuple[LawRow, ...]:
    """The rows of a workspace's own packs, worked out once a workspace."""
    return workspace.derived.cached("house rows", lambda: tuple(_house_rows(workspace)))


def _house_rows(workspace: Workspace) -> Iterator[LawRow]:
    by_file: dict[str, dict[tuple[str, ...], object]] = {}
    for path, value in workspace.facts.items():
        if path[0] == RULES and len(path) > 2:
            by_file.setdefault(path[1], {})[path[2:]] = value
    for name, facts in by_file.items():
        yield from rows(facts, name, file=f"rules/{name}.toml", house=True)


def in_force(found: Compliance, day: datetime.date) -> list[ApplicableRow]:
    """The rows that a product placed on the market on a day must meet."""
    return [hit for hit in found.hits if hit.row.placed.covers(day)]
