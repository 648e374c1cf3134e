"""All that is shown of one recipe or one ingredient, worked out once for every format."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterable, Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.diff.change_words import plain
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED
from formula_vcs.figures.cost import PriceInForce, choose
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.figures.figure_table import figures
from formula_vcs.figures.ingredient_list import LabelLine
from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.figures.where_used import IngredientUse, use
from formula_vcs.law.claims.table import judge_claims
from formula_vcs.law.compliance import Compliance, compliance_of, in_force
from formula_vcs.law.identity import identify
from formula_vcs.law.labelling import ingredient_list, printed, unsure_names
from formula_vcs.law.limit_use import LimitUse, amount
from formula_vcs.law.limit_use import uses as uses_of_limits
from formula_vcs.law.max_use import MaxUse, max_uses
from formula_vcs.law.otc_drug import actives
from formula_vcs.law.sought import Sought, found_in
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, replace
from formula_vcs.rules.judge import judge, judge_ingredient
from formula_vcs.workspace.snapshot import Snapshot

MARKETS: Final = ("EU", "US")


@dataclass(frozen=True)
class RevisionShown:
    """When and where a sheet is of: the revision as it was asked for, its commit, and the file; how paths are shown."""

    revision: str
    commit: str | None
    file: str
    shown: Callable[[str], str] = str


@dataclass(frozen=True)
class Label:
    """An ingredient list for a market; ``missing`` says what is not in it for lack of data."""

    market: str
    lines: tuple[LabelLine, ...]
    missing: tuple[str, ...]

    @property
    def printed(self) -> str:
        """Give the list as it would be printed, the active ingredients of a drug apart from the others."""
        return printed(self.lines)


@dataclass(frozen=True)
class RecipeSheet:
    """A recipe with what follows from it."""

    moment: RevisionShown
    terms: Terms
    formula: Formula
    sums: Breakdown
    figures: dict[str, Figure]
    claims: tuple[ClaimOutcome, ...]
    label: Label | None
    findings: tuple[Finding, ...]
    limits: tuple[LimitUse, ...] = ()
    max_uses: tuple[MaxUse, ...] = ()

    @property
    def recipe(self) -> Recipe:
        """Give the recipe."""
        return self.formula.recipe


class Brought(NamedTuple):
    """A substance that was looked for: as the materials write it, its INCI name ("" where none is known), its %."""

    name: str
    inci: str
    pct: Fraction


@dataclass(frozen=True)
class Used:
    """A recipe that a material goes into; ``kg`` of it go into the recipe's ``batch``, where there is one."""

    recipe: Recipe
    use: IngredientUse
    batch: Quantity | None
    substance: Fraction | None = None
    holds: tuple[Brought, ...] = ()

    @property
    def pct(self) -> Fraction:
        """Give the % of the product: of the substance where one was asked for, else of the materials."""
        return self.use.pct if self.substance is None else self.substance

    @property
    def kg(self) -> Fraction | None:
        """Give the mass of it in one batch."""
        return None if self.batch is None else self.batch.base * self.pct / HUNDRED


@dataclass(frozen=True)
class IngredientSheet:
    """An ingredient with its composition seen through, the price in force, and where it goes."""

    moment: RevisionShown
    terms: Terms
    ingredient: Ingredient
    sums: Breakdown | None
    price: PriceInForce | str
    used: tuple[Used, ...]
    findings: tuple[Finding, ...]


def recipe_sheet(snapshot: Snapshot, recipe: Recipe, moment: RevisionShown, terms: Terms) -> RecipeSheet:
    """Work out everything about a recipe."""
    formula = snapshot.formula(recipe)
    sums = Breakdown(formula)
    computed = figures(sums, terms)
    law = compliance_of(sums)
    found = judge(formula, terms.day, sums)
    for ingredient in formula.ingredients.values():
        found += _alone(snapshot, ingredient)
    return RecipeSheet(
        moment, terms, formula, sums, computed, judge_claims(law, terms.day),
        None if recipe.is_premix else label_of(sums, default_market(formula), terms.day),
        _placed(snapshot, found, moment), limits(law, terms.day), () if recipe.is_premix else tuple(max_uses(law)),
    )  # fmt: skip


def limits(law: Compliance, day: datetime.date) -> tuple[LimitUse, ...]:
    """Give the limits that a finished product is under, the tightest first."""
    if law.formula.recipe.is_premix:
        return ()
    found = [*uses_of_limits(law, in_force(law, day)), *_of_actives(law, day)]
    return tuple(sorted(found, key=lambda use: (use.left / use.allowed if use.allowed else 0, use.row.id)))


def _of_actives(law: Compliance, day: datetime.date) -> Iterator[LimitUse]:
    """Give the maxima of active ingredients, where a product is a drug in the United States."""
    for active in actives(law, day):
        most = active.row.windows[0][1]
        if most < HUNDRED:
            yield LimitUse(active.row, (active.key,), amount(law, [active.key], active.row.basis), most)


def default_market(formula: Formula) -> str:
    """Give the first market that a recipe names, or its workspace, and that has conventions of its own here."""
    named = formula.recipe.names["markets"] or tuple(
        path[1] for path, value in formula.workspace.facts.items() if path[0] == "markets" and value is True
    )
    return next((market for market in named if market in MARKETS), MARKETS[0])


def label_of(sums: Breakdown, market: str, day: datetime.date) -> Label:
    """Work out the ingredient list as a market wants it on a day."""
    missing = [*(f"{name}: no composition" for name in sums.unnamed), *unsettled(sums)]
    missing += unsure_names(sums, market)
    return Label(market, ingredient_list(sums, day, market), tuple(missing))


def _alone(snapshot: Snapshot, ingredient: Ingredient) -> list[Finding]:
    """Judge an ingredient by itself, or say why its file cannot be read."""
    if not ingredient.readable:
        return list(snapshot.read(ingredient.file).findings)
    return judge_ingredient(ingredient, snapshot.workspace)


def ingredient_sheet(
    snapshot: Snapshot, ingredient: Ingredient, moment: RevisionShown, terms: Terms
) -> IngredientSheet:
    """Work out everything about an ingredient."""
    premix = snapshot.premix(ingredient.recipe) if ingredient.recipe is not None else None
    sums = Breakdown(snapshot.formula(premix)) if premix is not None else None
    needed = None if terms.batch is None else terms.batch.base
    found = _alone(snapshot, ingredient)
    return IngredientSheet(
        moment, terms, ingredient, sums, choose(ingredient, terms.day, needed), uses(snapshot, (ingredient.id,)),
        _placed(snapshot, found, moment),
    )  # fmt: skip


def uses(
    snapshot: Snapshot, wanted: Collection[str], batch: Quantity | None = None, sought: Sought | None = None
) -> tuple[Used, ...]:
    """Find the recipes that ingredients go into, the largest share first, premixes behind products.

    Where substances are ``sought``, the shares are those of the substances, declared allergens and impurities too.
    """
    found: list[Used] = []
    for recipe in snapshot.recipes():
        formula = snapshot.formula(recipe)
        if not any(name in formula.ingredients or name in recipe.uses for name in wanted):
            continue
        sums = Breakdown(formula)
        there = use(sums, wanted)
        if there is not None:
            holds = _brought(sums, sought) if sought is not None and sought.whole is None else ()
            total = sum((one.pct for one in holds), Fraction(0)) if holds else None
            found.append(Used(recipe, there, batch or formula.batch, total, holds))
    return tuple(sorted(found, key=lambda used: (used.recipe.is_premix, -used.pct, used.recipe.id)))


def _brought(sums: Breakdown, sought: Sought) -> tuple[Brought, ...]:
    """Give what is looked for in a recipe, most first, from every raw material in it."""
    totals: dict[str, Brought] = {}
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        for key, held in found_in(material, sought).items() if material is not None else ():
            known = totals.get(key, Brought(held.spelled, identify(held.spelled, held.cas).inci, Fraction(0)))
            totals[key] = known._replace(pct=known.pct + share * held.pct)
    return tuple(sorted(totals.values(), key=lambda one: (-one.pct, one.name)))


def _placed(snapshot: Snapshot, found: Iterable[Finding], moment: RevisionShown) -> tuple[Finding, ...]:
    placed = (replace(snapshot.place(finding), shown=moment.shown(finding.file)) for finding in found)
    return tuple(sorted(placed, key=worst_first))


def facts_of(ingredient: Ingredient, table: str) -> dict[str, str]:
    """Give the readable facts of one table of an ingredient, sets as one line: ``{"shear_at_most": "low"}``."""
    found: dict[str, list[str]] = {}
    for path, value in ingredient.facts.items():
        if path[0] == table and len(path) > 1:
            found.setdefault(path[1], []).append(path[2] if len(path) > 2 and value is True else plain(value))
    return {name: ", ".join(values) for name, values in found.items()}


@dataclass(frozen=True)
class Whereabouts:
    """Where a material goes; ``of`` is what was asked for: an ingredient's id, or the name of a ``substance``.

    ``means`` is the INCI name that another name was taken for, "" where there is nothing to say.
    """

    of: str
    ingredients: tuple[str, ...]
    moment: RevisionShown
    used: tuple[Used, ...]
    substance: bool = False
    means: str = ""
