"""Judge a recipe, an ingredient, a workspace: run the rules and take accepted findings into account."""

from __future__ import annotations

import datetime
from collections.abc import Iterable

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.values import replace
from formula_vcs.model.workspace import Workspace
from formula_vcs.rules.accepted import covers
from formula_vcs.rules.registry import OF_INGREDIENTS, OF_RECIPES, OF_RECORDS, PRICES, RULES
from formula_vcs.rules.rule import Case, RecordCase, Rule


def judge(
    formula: Formula,
    day: datetime.date,
    sums: Breakdown | None = None,
    rules: Iterable[Rule] = OF_RECIPES,
    *,
    case: Case | None = None,
) -> list[Finding]:
    """Judge a recipe with all that it rests on; findings that it accepts become notes.

    ``case`` is its case where somebody has it already, with nothing raised yet.
    """
    case = case or Case(formula, day, sums)
    for rule in rules:
        case.raised.extend(rule.check(case))
    if not formula.recipe.accepted:
        return case.raised
    return [_accepted(finding, formula, day) for finding in case.raised]


def judge_ingredient(ingredient: Ingredient, workspace: Workspace) -> list[Finding]:
    """Judge an ingredient by itself, and its prices by the currency of the workspace.

    It never changes, so what was said once of it alone stays true.
    """
    if not ingredient.readable:
        return []

    def said() -> tuple[Finding, ...]:
        return tuple(finding for rule in OF_INGREDIENTS for finding in rule.check_ingredient(ingredient))

    return [*ingredient.derived.cached("findings", said), *PRICES.check_price(ingredient, workspace)]


def judge_record(case: RecordCase) -> list[Finding]:
    """Judge a batch, a lot or an evidence file with what it names."""
    kind = case.record.kind
    return [finding for rule in OF_RECORDS if rule.judges == kind for finding in rule.check_record(case)]


def _accepted(finding: Finding, formula: Formula, day: datetime.date) -> Finding:
    if not RULES[finding.rule].acceptable:
        return finding
    for (rule, about), accepted in formula.recipe.accepted.items():
        ended = isinstance(accepted.until, datetime.date) and accepted.until < day
        if covers(finding, rule, about) and not ended:
            words = f"{finding.message} (accepted: {accepted.why})"
            return replace(finding, severity="note", message=words, accepted=finding.severity)
    return finding
