"""Workspaces held in memory, for checks against published figures."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.judge import judge, judge_ingredient
from formula_vcs.workspace.snapshot import Files, Snapshot

DAY = datetime.date(2026, 6, 1)
FORMULARY = Path(__file__).with_name("formulary")
WORKSPACE = 'title = "Published formulas"\ncurrency = "EUR"\n'


def formula(recipe: str, ingredients: Mapping[str, str], **more: str) -> Formula:
    """Give the formula of one recipe's text; ``more`` are premixes, their ids with _ for -."""
    files = {"workspace.toml": WORKSPACE, "recipe.toml": recipe}
    files |= {f"{name.replace('_', '-')}.toml": text for name, text in more.items()}
    files |= {f"ingredients/{name}.toml": text for name, text in ingredients.items()}
    snapshot = Snapshot(Files(files))
    found = snapshot.recipe("recipe")
    assert found is not None, snapshot.read("recipe.toml").findings
    return snapshot.formula(found)


def material(inci: str | Mapping[str, str], *facts: str) -> str:
    """Write an ingredient file: an INCI name, or several with their %, and further lines (headings too)."""
    shares = {inci: "100"} if isinstance(inci, str) else inci
    plain = [fact for fact in facts if not fact.startswith("[")]
    tables = [fact for fact in facts if fact.startswith("[")]
    substances = [f'"{name}" = {share}' for name, share in shares.items()]
    return "\n".join(['title = "x"', *plain, "[substances]", *substances, *tables, ""])


def figure(of: Formula, name: str) -> Figure:
    """Compute one figure."""
    return FIGURES[name](Breakdown(of), Terms(DAY))


def value(of: Formula, name: str) -> Fraction:
    """Give the value of a figure that is known."""
    found = figure(of, name)
    assert found.value is not None, found.missing
    return found.value


def said(of: Formula) -> list[tuple[str, str]]:
    """Give (rule, severity) of all that is found; that a book states no steps or no preservative is left out."""
    return [(finding.rule, finding.severity) for finding in findings(of)]


# Books state no steps and no preservative, and name materials as their time did.
_NOT_OF_BOOKS = ("no-process", "preserved", "substance-name")


def findings(of: Formula) -> Sequence[Finding]:
    """Judge a recipe and its ingredients; what no book of its time could meet is left out."""
    found = judge(of, DAY)
    for ingredient in of.ingredients.values():
        found += judge_ingredient(ingredient, of.workspace)
    return [finding for finding in found if finding.rule not in _NOT_OF_BOOKS]


def places(number: Fraction, count: int) -> str:
    """Round half up, as people do on paper."""
    scaled = Decimal(number.numerator) / Decimal(number.denominator)
    return str(scaled.quantize(Decimal(1).scaleb(-count), ROUND_HALF_UP))
