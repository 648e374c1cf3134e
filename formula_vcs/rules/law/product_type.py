"""What the header says, or leaves unsaid, of the product and its markets, and what depends on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from formula_vcs.law.compliance import ApplicableRow, Compliance
from formula_vcs.law.packs_in_force import finer_areas, never_spray, pack_names, product, product_names, product_of
from formula_vcs.model.finding import SEVERITIES, Finding, Severity
from formula_vcs.model.law_row import MARKETS, Product
from formula_vcs.model.product import ADULTS, LINES, PROFESSIONAL, audience, completed
from formula_vcs.rules.law.allowed_substances import PACKS, PackRule
from formula_vcs.rules.rule import FORMAT, Case, Rule
from formula_vcs.toml.takers import nearest

# --- What a product is, and where it is sold, is something that the packs know


class ProductType(Rule):
    """A recipe with a market or a claim says which product it is, in a word that the product types know.

    Why: a limit hangs on where a product stays and on what: a toothpaste is oral and does not get the limit of what
    is rinsed off.  Without the type no limit can be judged, so its absence is a warning; a word that nobody knows
    blocks, since it would switch every limit off.  A header that says something else than its type (`for = "adults"`
    of a baby cream, `spray = "none"` of a hair spray) is a warning, and both are judged.

    So:
        product = "hand cream"
    """

    id = "product-type"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Look the product type up."""
        if case.recipe.is_premix:
            return
        found = case.compliance
        if found.product is not None:
            yield from self._against(case, found)
            return
        if not (found.law.packs or found.house or case.recipe.claims):
            return
        if case.recipe.product is None:
            words = "the recipe does not say which 'product' it is, so no limit, label or claim can be judged"
            yield self.say(case, words, ("product",), subject="none", severity="warn")
            return
        known = product_names()
        hint = nearest(case.recipe.product, known) or f"; known: {', '.join(sorted(known))}"
        words = f"'{case.recipe.product}' is no product type{hint}"
        yield self.say(case, words, ("product",), subject="unknown", on_value=True)

    def _against(self, case: Case, found: Compliance) -> Iterator[Finding]:
        """Say what the header states against the type, or against what is in the product; the stricter one counts."""
        recipe = case.recipe
        typed = product(recipe.product)
        young = sorted(age for age in typed.age if age.startswith("under-")) if typed is not None else []
        whom = audience(recipe.get("for") or "")
        if typed is not None and young and whom is not None and not whom.ages & typed.age:
            words = f"'for' says '{recipe.get('for')}', and a '{recipe.product}' is for children; judged as both"
            yield self.say(case, words, ("for",), subject="for", severity="warn", on_value=True)
        if typed is not None and "spray" in typed.form and recipe.get("spray") == "none":
            words = f"'spray' says 'none', and a '{recipe.product}' is a spray; judged as one"
            yield self.say(case, words, ("spray",), subject="spray", severity="warn", on_value=True)
        if recipe.get("hydroalcoholic", bool) and not found.alcoholic:
            words = "'hydroalcoholic' is true, and no alcohol is among what is stated to be in the product"
            yield self.say(case, words, ("hydroalcoholic",), subject="alcohol", severity="warn", on_value=True)


class MarketKnown(Rule):
    """The markets and the packs that are named are ones that there are facts for.

    Why: a market without a pack is not judged at all, and silence would read as a pass.
    """

    id = "market"
    severity = "warn"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every market and every pack without facts."""
        if case.recipe.is_premix:
            return
        found = case.compliance
        for market in found.markets:
            if market not in MARKETS:
                known = ", ".join(MARKETS)
                words = f"market '{market}': there are no facts for it here, so nothing is judged; known: {known}"
                yield self.say(case, words, ("markets",), subject=market)
        for name in case.formula.workspace.names["packs"]:
            if name not in pack_names():
                hint = nearest(name, pack_names()) or f"; known: {', '.join(pack_names())}"
                words = f"the workspace names pack '{name}', and there is none{hint}"
                yield self.say(case, words, ("markets",), subject=f"pack/{name}")


# --- What the header does not say of the product, and what hangs on it


_SPRAYS: Final = frozenset({"spray", "aerosol", "pump"})
_MOST: Final = 3  # substances that are named of one verdict
# What the recipe is judged as where the header is silent.
_BASE: Final = {
    "for": "for the general public",
    "spray": "as no spray",
    "hydroalcoholic": "as not hydroalcoholic",
    "area": "on no area in particular",
}
# Each other way to state a field: its words in a finding, the line that states it, and the product that it makes.
_Way = tuple[str, str, Product]


class _Said(NamedTuple):
    """One finding that a row of the law makes."""

    severity: Severity
    names: str
    source: str
    keys: tuple[str, ...]

    @property
    def bare(self) -> tuple[Severity, str]:
        """What a verdict is: how bad, for which substances."""
        return self.severity, self.names


_Verdict = frozenset[_Said]
_Rows = frozenset[tuple[str, str]]
# Kinds of rows that say something of the label or of papers, and nothing that blocks.
_NO_VERDICT: Final = frozenset({"name", "warning", "ask", "allowed", "hint", "particles"})


class Unstated(Rule):
    """The header of a recipe states what a verdict of the law hangs on: for whom, spray or not, on what.

    Why: salicylic acid is allowed in a lotion and prohibited in one for children under 3; chlorobutanol is allowed
    in a tonic and prohibited in a spray.  A field that is left out is judged as the common case, the general public
    and no spray; where another answer would turn a verdict, this finding names the field and both verdicts.

    So:
        product = "lotion"
        for     = "adults"            # "children under 3", "children 6 to 10", "professional use", "general public"
        spray   = "pump"              # "aerosol" (with a propellant), "none"
        area    = ["face", "hand"]
        hydroalcoholic = true
    """

    id = "unstated"
    severity = "warn"
    source = PACKS

    def check(self, case: Case) -> Iterator[Finding]:
        """Judge the recipe once more for every other answer to every field that is open."""
        found = case.finished
        if found is None or found.product is None:
            return
        stated = {path[0] for path in case.recipe.facts}
        verdicts = _Verdicts(case, found, found.product)
        for field, ways in _WAYS.items():
            others = () if field in stated else ways(found, found.product)
            turned = [(way, *verdicts.turned(way[2])) for way in others]
            turned = [(way, here, there) for way, here, there in turned if here or there]
            if turned:
                yield self.say(case, _words(field, found, turned), ("product",), subject=field)


def _scopes(found: Compliance, dimension: str) -> set[str]:
    """All that the rows about the recipe's substances ask for in one dimension."""
    rows = [hit.row for hit in found.spoken]
    return {name for row in rows for scope in (row.where, row.unless) for name in getattr(scope, dimension)}


def _audiences(found: Compliance, product: Product) -> Iterator[_Way]:
    asked = _scopes(found, "age")
    lines = [line for line in LINES if f"under-{line}" in asked]
    stated = [] if ADULTS in product.age else [f"children under {line}" for line in lines]
    if PROFESSIONAL in _scopes(found, "user") and not product.user:
        stated.append("professional use")
    for one in stated:
        yield f"for {one}", f'for = "{one}"', completed(product, made_for=one)


def _sprays(found: Compliance, product: Product) -> Iterator[_Way]:
    """Ask what stays on and is not solid: what is rinsed off, or used in the mouth, is a spray where it says so."""
    recipe = found.formula.recipe
    solid = never_spray(recipe.product) or recipe.get("form") in ("bar", "paste") or product.contact != "leave-on"
    if (solid and "spray" not in product.form) or not _scopes(found, "form") & _SPRAYS:
        return
    for stated, words in (("aerosol", "as an aerosol"), ("pump", "as a pump spray")):
        yield words, f'spray = "{stated}"', completed(product, spray=stated)


def _alcohols(found: Compliance, product: Product) -> Iterator[_Way]:
    if found.alcoholic and "hydroalcoholic" not in product.form:
        yield "as a hydroalcoholic product", "hydroalcoholic = true", completed(product, hydroalcoholic=True)


def _areas(found: Compliance, product: Product) -> Iterator[_Way]:
    for area in finer_areas(product.name):
        finer = product_of(found.formula.recipe, (area,))
        if finer is not None:
            finer = completed(finer, hydroalcoholic="hydroalcoholic" in product.form)
            yield f"on the {area}", f'area = ["{area}"]', finer


# What each field that a header can leave out may be instead.
_WAYS: Final[dict[str, Callable[[Compliance, Product], Iterator[_Way]]]] = {
    "for": _audiences,
    "spray": _sprays,
    "hydroalcoholic": _alcohols,
    "area": _areas,
}


class _Verdicts:
    """What the law says of a recipe as one product and as another, by the rows alone that tell them apart.

    Many answers to a field change the same rows, so what was worked out for some rows is kept.
    """

    def __init__(self, case: Case, found: Compliance, product: Product) -> None:
        self._case = case
        self._found = found
        self._product = product
        self._known: dict[tuple[Product, _Rows], _Verdict] = {}
        self._hits = [
            hit for hit in found.spoken if hit.row.kind not in _NO_VERDICT and hit.row.placed.covers(case.day)
        ]

    def turned(self, other: Product) -> tuple[_Verdict, _Verdict]:
        """What is said of the product only, and what only of the other one."""
        meant = [(self._product.under(hit.row), other.under(hit.row), hit) for hit in self._hits]
        here = self._of(self._product, [hit for now, then, hit in meant if now and not then])
        there = self._of(other, [hit for now, then, hit in meant if then and not now])
        if not here and not there:
            return here, there
        # what rows about both say of the same substances is no difference, whatever else says it
        keys = {key for said in (*here, *there) for key in said.keys}
        alike = [hit for now, then, hit in meant if now and then and not keys.isdisjoint(hit.keys)]
        both = {said.bare for said in self._of(self._product, alike)}
        bare_here, bare_there = ({said.bare for said in side} for side in (here, there))
        return (
            frozenset(said for said in here if said.bare not in bare_there | both),
            frozenset(said for said in there if said.bare not in bare_here | both),
        )

    def _of(self, product: Product, hits: list[ApplicableRow]) -> _Verdict:
        """Judge the recipe as a product before some rows."""
        if not hits:
            return frozenset()
        rows = frozenset((hit.row.id, hit.row.pack) for hit in hits)
        if (product, rows) not in self._known:
            self._known[product, rows] = _verdict(self._case, self._found.as_a(product, rows))
        return self._known[product, rows]


def _verdict(case: Case, found: Compliance) -> _Verdict:
    from formula_vcs.rules.registry import OF_LAW

    asked = Case(case.formula, case.day, case.sums, judged_as=found)
    return frozenset(
        _Said(finding.severity, _named(found, finding), finding.source, tuple(finding.subject.split("/")[1:]))
        for rule in OF_LAW
        if isinstance(rule, PackRule) and rule.of_rows and rule.severity == "block"
        for finding in rule.check(asked)
        if finding.severity != "note"
    )


def _named(found: Compliance, finding: Finding) -> str:
    keys = finding.subject.split("/")[1:]
    return " + ".join(found.spelled(key) for key in keys) or "the pH"


def _words(field: str, found: Compliance, turned: list[tuple[_Way, _Verdict, _Verdict]]) -> str:
    """Word a finding: each other answer with its verdict, those with the same verdict together."""
    same: dict[str, list[str]] = defaultdict(list)
    for (words, _, _), _, there in turned:
        same[_said(there)].append(words)
    others = "; ".join(f"{' or '.join(ways)}: {verdict}" for verdict, ways in same.items())
    here = frozenset(one for _, only, _ in turned for one in only)
    base = "as a spray of either kind" if field == "spray" and _sprayed(found) else _BASE[field]
    example = " or ".join(dict.fromkeys(line for (_, line, _), _, _ in turned))
    silent = {"for": 'for = "adults"', "spray": 'spray = "none"', "hydroalcoholic": "hydroalcoholic = false"}
    if field in silent and not (field == "spray" and _sprayed(found)):
        example = f"{silent[field]} or {example}"
    return (
        f"the header does not state '{field}', and a verdict hangs on it; {others}; "
        f"{base}, as it is judged here: {_said(here)}; to be stated: {example}"
    )


def _sprayed(found: Compliance) -> bool:
    return found.product is not None and "spray" in found.product.form


def _said(verdict: _Verdict) -> str:
    """Word a verdict: the worst first, the rest counted."""
    if not verdict:
        return "nothing of it"
    ranked = sorted(verdict, key=lambda one: (SEVERITIES.index(one.severity), one))
    said = ", ".join(f"{one.severity} {one.names} ({one.source})" for one in ranked[:_MOST])
    return said if len(ranked) <= _MOST else f"{said} and {len(ranked) - _MOST} more"
