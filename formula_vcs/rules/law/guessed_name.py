"""What the law would say if a misspelt name meant what it is nearest to."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import Compliance
from formula_vcs.law.identity import identify, law_key
from formula_vcs.law.packs_in_force import is_named
from formula_vcs.law.sought import rows_about
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.values import replace
from formula_vcs.rules.law.pack_rule import PACKS, PackRule
from formula_vcs.rules.rule import Case, Rule

_TABLES = ("substances", "allergens")


class GuessedName(Rule):
    """A name that is nearly one of a limited or prohibited substance does not hide it.

    Why: "Sodium Benzoat" has no limit, "Sodium Benzoate" has; a slip must not be a way past the law.  Nobody here can
    be sure what was meant, so what the nearest name would make unlawful is a warning that says both names, and the
    name itself is one by `substance-name`.

    So:
        "Sodium Benzoate" = { pct = 100, cas = "532-32-1" }
    """

    id = "guessed-name"
    severity = "warn"
    source = PACKS

    def check(self, case: Case) -> Iterator[Finding]:
        """Judge the recipe once more with the nearest names in place of those that no table knows."""
        found = case.finished
        if found is None:
            return
        leaves = {name: _guesses(case.formula.ingredients.get(name)) for name in case.sums.leaves}
        guesses = {name: near for name, of in leaves.items() if (near := _ruled(found, of))}
        if not guesses:
            return
        meant = _meant(case.formula, guesses)
        before = {(finding.rule, finding.subject) for finding in _blocking(case)}
        said = " and ".join(
            f"'{name}' is '{near}'" for name, near in sorted({pair for of in guesses.values() for pair in of.items()})
        )
        for finding in _blocking(Case(meant, case.day)):
            if (finding.rule, finding.subject) not in before:
                words = f"if {said}: {finding.message}"
                subject = f"{finding.rule}/{finding.subject}"
                yield replace(self.say(case, words, finding.at, subject=subject), source=finding.source)


def _guesses(ingredient: Ingredient | None) -> dict[str, str]:
    """Give the names of a material that no table knows, each with the nearest one that is known."""
    if ingredient is None:
        return {}

    def guessed() -> dict[str, str]:
        names = {path[1]: path for path in ingredient.facts if len(path) == 2 and path[0] in _TABLES}
        found = {name: identify(name, ingredient.get(*path, "cas") or "") for name, path in names.items()}
        return {name: one.near[0] for name, one in found.items() if one.how == "near" and not is_named(name)}

    return ingredient.derived.cached("guesses", guessed)


def _ruled(found: Compliance, guesses: dict[str, str]) -> dict[str, str]:
    """Give the guesses that some row in force speaks of: with the others nothing can turn."""
    return {
        name: near
        for name, near in guesses.items()
        if rows_about(found.law, law_key(near), near, ()) or any(law_key(near) in row.names for row in found.house)
    }


def _meant(formula: Formula, guesses: dict[str, dict[str, str]]) -> Formula:
    materials = dict(formula.ingredients)
    for name, of in guesses.items():
        materials[name] = replace(materials[name], facts=_renamed(materials[name].facts, of))
    return replace(formula, ingredients=materials)


def _renamed(facts: Facts, names: dict[str, str]) -> Facts:
    """Give a material's facts with other names; where it states both, their shares are added up."""
    found = {path: value for path, value in facts.items() if not (path[0] in _TABLES and path[1] in names)}
    for path, value in facts.items():
        if path[0] in _TABLES and path[1] in names:
            other = (path[0], names[path[1]], *path[2:])
            known = found.get(other)
            both = len(path) == 2 and known is not None and type(known) is type(value)
            found[other] = known + value if both else value
    return found


def _blocking(case: Case) -> list[Finding]:
    from formula_vcs.rules.registry import OF_LAW

    rules = [rule for rule in OF_LAW if isinstance(rule, PackRule) and rule.severity == "block"]
    return [finding for rule in rules for finding in rule.check(case) if finding.severity == "block"]
