"""What would be so: other prices, another material, a rule more, another market, a substance banned, another day."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final, NamedTuple

from formula_vcs.diff.apply import renamed
from formula_vcs.errors import UserError
from formula_vcs.law.identity import law_key
from formula_vcs.model.amount import Amount, Price
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.formula import Formula, resolve
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.law_row import MARKETS
from formula_vcs.model.quantity import Quantity, exchange
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.toml.edit import spelled
from formula_vcs.toml.takers import nearest
from formula_vcs.units.unit_reading import QuantityError, read_quantity
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted
from formula_vcs.workspace.snapshot import Overlay, Snapshot

_RELATIVE: Final = late_pattern(r"(?P<sign>[+-])\s*(?P<number>\d{1,6}(?:\.\d{1,6})?)\s*%")
_PAIR: Final = late_pattern(r"(?P<one>[^=]+?)\s*=\s*(?P<other>.+)")


class PriceChange(NamedTuple):
    """A price that is another: all of a material's times a factor, or one price in place of all."""

    ingredient: str
    words: str
    factor: Fraction | None = None
    price: Quantity | None = None


@dataclass(frozen=True)
class WhatIf:
    """What is asked beside what is.  It can be pickled; ``words`` say it for people.

    ``rules`` are files of house rules, by the path that each is taken under.  ``day`` is another day to judge on.
    """

    prices: tuple[PriceChange, ...] = ()
    replaced: tuple[tuple[str, str], ...] = ()
    rules: tuple[tuple[str, bytes], ...] = ()
    markets: tuple[str, ...] = ()
    banned: tuple[str, ...] = ()
    day: datetime.date | None = None
    words: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        """Say whether anything is asked."""
        return bool(self.words)

    @property
    def judges(self) -> bool:
        """Say whether a recipe may be judged otherwise: other prices alone break none."""
        return bool(self.replaced or self.rules or self.markets or self.banned or self.day)


class CannotReplaceError(Exception):
    """A recipe in which a material cannot be put in the place of another, and why."""


@dataclass
class ChangedShelf:
    """A snapshot as it would be: each changed material and premix is made once."""

    base: Snapshot
    what_if: WhatIf
    _made: dict[tuple[str, str], Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Put the rules on top."""
        files: dict[str, bytes | None] = dict(self.what_if.rules)
        if self.what_if.banned:
            files[_free_path(self.base, "what-if-without")] = _bans(self.what_if.banned)
        self.snapshot = Snapshot(Overlay(self.base.source, files), self.base.store) if files else self.base

    def formula(self, recipe: Recipe) -> Formula:
        """Give a recipe with all that it would rest on.

        :raises CannotReplaceError: a material cannot take the place of another in it, or in a premix of it.
        """
        shelf = self.snapshot
        return resolve(
            self._recipe(recipe), self._ingredient, self._premix, shelf.workspace, shelf.shelf,
            equipment=shelf.equipment, packaging=shelf.packaging,
        )  # fmt: skip

    def _ingredient(self, name: str) -> Ingredient | None:
        if ("ingredient", name) not in self._made:
            found = self.snapshot.ingredient(name)
            for change in self.what_if.prices if found is not None else ():
                if change.ingredient == name and found is not None:
                    found = replace(found, facts={**found.facts, ("price",): _priced(found, change)})
            self._made["ingredient", name] = found
        made: Ingredient | None = self._made["ingredient", name]
        return made

    def _premix(self, name: str) -> Recipe | None:
        if ("premix", name) not in self._made:
            found = self.snapshot.premix(name)
            self._made["premix", name] = None if found is None else self._recipe(found)
        made: Recipe | None = self._made["premix", name]
        return made

    def _recipe(self, recipe: Recipe) -> Recipe:
        facts = recipe.facts
        for old, new in self.what_if.replaced:
            if old in recipe.uses:
                facts = _with_other(recipe.id, facts, old, new)
        if self.what_if.markets and not recipe.is_premix:
            named = recipe.names["markets"] or self.snapshot.workspace.names["markets"]
            facts = {**facts, **{("markets", one): True for one in (*named, *self.what_if.markets)}}
        return recipe if facts is recipe.facts else replace(recipe, facts=facts)


def _priced(material: Ingredient, change: PriceChange) -> tuple[Price, ...]:
    if change.price is not None:
        return (Price(change.price),)
    factor = change.factor or Fraction(1)
    return tuple(replace(price, cost=_times(price.cost, factor)) for price in material.prices)


def _times(cost: Quantity, factor: Fraction) -> Quantity:
    value = Fraction(cost.value) * factor
    decimal = Decimal(value.numerator) / Decimal(value.denominator)
    return replace(cost, text=f"{decimal:f} {cost.unit}", value=decimal, base=cost.base * factor)


def _with_other(recipe: str, facts: Facts, old: str, new: str) -> Facts:
    """Put a material in the place of another, in every phase and step; amounts in one phase are added up."""
    result: dict[Path, Any] = {}
    names: dict[str, str] = {}
    for path, value in facts.items():
        if path[:1] != ("phase",) or len(path) < 4 or path[2:4] != ("charge", old):
            result[path] = value
            continue
        names[f"{path[1]}/{old}"] = f"{path[1]}/{new}"
        there = (*path[:3], new)
        if there not in facts:
            result[(*there, *path[4:])] = value
        elif len(path) == 4:
            result[there] = _together(recipe, path[1], facts[there], value, (old, new))
    for path, value in list(result.items()):
        if path[:1] == ("step",) and path[-1] in ("add", "adjust") and isinstance(value, tuple):
            items = (renamed(item, {**names, old: new}) for item in value)
            result[path] = tuple(dict.fromkeys(items))
    # what stood behind the material that was there already must not be written over by what came
    behind = {path: value for path, value in facts.items() if path[2:4] == ("charge", new) and len(path) > 4}
    return result | behind


def _together(recipe: str, phase: str, there: object, came: object, names: tuple[str, str]) -> Amount:
    old, new = names
    known = isinstance(there, Amount) and isinstance(came, Amount) and there.kind == came.kind
    if not (isinstance(there, Amount) and isinstance(came, Amount) and known and there.kind in ("percent", "parts")):
        words = (
            f"phase {phase} of '{recipe}' holds '{new}' already, and its amount and that of '{old}' are of two kinds"
        )
        raise CannotReplaceError(words)
    value = there.value + came.value
    return Amount(there.kind, value, text=f"{value:f}")


def _bans(names: Sequence[str]) -> bytes:
    rows = (
        f'[[rule]]\nid = "without-{place}"\nkind = "prohibited"\nsubstances = [{spelled(name)}]\n'
        'source = "what if: without it"\n'
        for place, name in enumerate(names, 1)
    )
    return "\n".join(rows).encode()


def _free_path(snapshot: Snapshot, stem: str) -> str:
    """Give a path for rules that no file of the workspace has: what is asked replaces none of the house."""
    taken = {*snapshot.ids("rules")}
    name, number = stem, 1
    while name in taken:
        number += 1
        name = f"{stem}-{number}"
    return f"rules/{name}.toml"


# --- from what is typed


def read_what_if(
    snapshot: Snapshot,
    *,
    prices: Sequence[str] = (),
    replaced: Sequence[str] = (),
    rules: Sequence[tuple[str, bytes]] = (),
    markets: Sequence[str] = (),
    without: Sequence[str] = (),
    day: datetime.date | None = None,
    today: datetime.date,
) -> WhatIf:
    """Read what is asked, in the words of the options.

    ``rules`` are files, each by how it was typed and with its bytes.

    :raises UserError: a name, a price, a rule or a market is none.
    """
    changes = tuple(_price(text, snapshot, day or today) for text in prices)
    twice = next((one for one in changes if sum(one.ingredient == other.ingredient for other in changes) > 1), None)
    if twice is not None:
        raise UserError(f"--price names '{twice.ingredient}' twice")
    pairs = _pairs(replaced, snapshot)
    for market in markets:
        if market not in MARKETS:
            raise UserError(f"--market {quoted(market)}: no law of it is known here; known: {', '.join(MARKETS)}")
    for name in without:
        _known(name, snapshot)
    files = []
    for place, (name, data) in enumerate(rules, 1):
        path = _free_path(snapshot, f"what-if-{place}")
        _check_rules(snapshot, name, path, data)
        files.append((path, data))
    words = [f"{one.ingredient} at {one.words}" for one in changes]
    words += [f"{old} replaced by {new}" for old, new in pairs]
    words += [f"with the rules of {name}" for name, _ in rules]
    words += [f"sold in {market} too" for market in dict.fromkeys(markets)]
    words += [f"without {name}" for name in without]
    words += [f"as of {day}"] if day is not None else []
    return WhatIf(
        changes, pairs, tuple(files), tuple(dict.fromkeys(markets)), tuple(dict.fromkeys(without)), day, tuple(words)
    )


def _material(name: str, snapshot: Snapshot, option: str) -> Ingredient:
    found = snapshot.ingredient(name)
    if found is None:
        raise UserError(f"{option}: no ingredient is called '{name}'{nearest(name, snapshot.ids('ingredients'))}")
    if not found.readable:
        raise UserError(f"{option}: {found.file} does not parse; 'git formula check' says why")
    return found


def _price(text: str, snapshot: Snapshot, day: datetime.date) -> PriceChange:
    option = f"--price {quoted(text)}"
    pair = _PAIR.fullmatch(text.strip())
    if pair is None:
        raise UserError(f"{option}: write it like 'shea-butter=+20 %' or 'shea-butter=7.40 EUR/kg'")
    name, said = pair["one"].strip(), pair["other"].strip()
    material = _material(name, snapshot, option)
    relative = _RELATIVE.fullmatch(said)
    if relative is not None:
        share = Fraction(relative["number"]) / 100 * (1 if relative["sign"] == "+" else -1)
        if share < -1:
            raise UserError(f"{option}: a price cannot fall by more than all of it")
        if not material.prices and material.recipe is None:
            raise UserError(f"{option}: '{name}' states no price that could change; give one, like '7.40 EUR/kg'")
        if not material.prices:
            raise UserError(f"{option}: '{name}' is a premix without a price of its own; change its materials")
        return PriceChange(name, said, factor=1 + share)
    if said.endswith("%"):
        raise UserError(f"{option}: say whether it rises or falls, '+{said}' or '-{said}'")
    try:
        price = read_quantity(said, ("price", "price by volume"))
    except QuantityError as bad:
        currency = snapshot.workspace.currency or "EUR"
        raise UserError(f"{option}: {bad.message}; a price is like '7.40 {currency}/kg'") from None
    wanted = snapshot.workspace.currency
    if wanted and price.currency != wanted:
        rated = exchange(snapshot.workspace.rates, price.currency, wanted, day)
        if isinstance(rated, str):
            raise UserError(f"{option}: costs are in {wanted} here, and {rated}")
    return PriceChange(name, said, price=price)


def _pairs(texts: Sequence[str], snapshot: Snapshot) -> tuple[tuple[str, str], ...]:
    pairs: dict[str, str] = {}
    for text in texts:
        option = f"--replace {quoted(text)}"
        pair = _PAIR.fullmatch(text.strip())
        if pair is None:
            raise UserError(f"{option}: write it like 'shea-butter=shea-butter-organic'")
        old, new = pair["one"].strip(), pair["other"].strip()
        for name in (old, new):
            _material(name, snapshot, option)
        if old == new:
            raise UserError(f"{option}: that is the same material")
        if old in pairs:
            raise UserError(f"{option}: '{old}' is replaced twice")
        pairs[old] = new
    for old, new in pairs.items():
        if new in pairs:
            circle = pairs[new] == old
            more = "each other: that is a circle" if circle else f"a row: '{new}' is replaced itself"
            raise UserError(f"--replace: '{old}' and '{new}' replace {more}; name where each one ends")
    return tuple(pairs.items())


def _known(name: str, snapshot: Snapshot) -> None:
    """Refuse a substance that no material holds: nothing would be found, and that would read as an answer."""
    key, folded = law_key(name), inci_key(name)
    inside: set[str] = set()
    for one in snapshot.ids("ingredients"):
        material = snapshot.ingredient(one)
        for inci in material.inci if material is not None else ():
            if inci in (key, folded) or law_key(inci) == key:
                return
            inside.add(inci)
    hint = nearest(folded, inside)
    if name in snapshot.ids("ingredients"):
        hint = "; that is an ingredient: name the substance, or use --replace"
    raise UserError(f"--without {quoted(name)}: no material holds a substance of that name{hint}")


def _check_rules(snapshot: Snapshot, name: str, path: str, data: bytes) -> None:
    with Snapshot(Overlay(snapshot.source, {path: data}), snapshot.store) as there:
        findings = [*there.read(path).findings]
        if not findings:
            from formula_vcs.rules.law.house import judge_house
            from formula_vcs.workspace.snapshot import refused

            findings = [*refused(there.read(path).facts, path, None)]
            findings += [one for one in judge_house(there.workspace) if one.file == path]
        first = next(map(there.place, findings), None)
    if first is not None:
        raise UserError(f"{name}:{first.line}:{first.column}: {first.message}")
