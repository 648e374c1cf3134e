"""The survey as a table for a spreadsheet: one row a recipe."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from formula_vcs.sheets.sheet_table import SheetTable, Value, as_decimal
from formula_vcs.survey.survey import SurveyedRecipe


def survey_table(found: Sequence[SurveyedRecipe]) -> SheetTable:
    """Give one row a recipe: as it is, as it would be, and what that costs."""
    heads = (
        "Recipe id", "Recipe", "Product", "Markets", "Status", "Status what if", "Breaks", "Cost per kg",
        "Cost per kg what if", "Change per kg", "Currency", "Claims that hold", "Claims", "Nearest limit",
        "Used of it (%)", "Evidence", "Would break by", "Not known", "Label", "Deadline",
    )  # fmt: skip
    return SheetTable("Survey", heads, [_row(one) for one in found])


def _row(one: SurveyedRecipe) -> tuple[Value, ...]:
    state, limit = one.state, one.state.limit
    return (
        one.id, one.title, one.product, ", ".join(one.markets), one.now.status,
        None if one.then is None else one.then.status, "yes" if one.breaks else None, _number(one.now.cost),
        _number(None if one.then is None else one.then.cost), _number(one.dearer), state.currency,
        Decimal(sum(claim.verdict == "holds" for claim in state.claims)), Decimal(len(state.claims)),
        None if limit is None else limit.what, None if limit is None else as_decimal(limit.used * 100),
        "; ".join(f"{what} {worth}" for what, worth in one.evidence) or None,
        one.refused or "; ".join(f"[{finding.rule}] {finding.message}" for finding in one.broken) or None,
        "; ".join(state.lacking) or None, state.label or None,
        None if state.deadline is None else state.deadline.day,
    )  # fmt: skip


def _number(value: Fraction | None) -> Decimal | None:
    return None if value is None else as_decimal(value)
