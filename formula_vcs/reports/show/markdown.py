"""One recipe or ingredient as markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.document.markdown import rendered
from formula_vcs.reports.label import printed
from formula_vcs.reports.sheets import IngredientSheet, RecipeSheet
from formula_vcs.reports.show import words as show_words
from formula_vcs.reports.table_markdown import Page
from formula_vcs.reports.uses import table


def write(sheet: RecipeSheet | IngredientSheet, *, out: TextIO) -> None:
    """Write a sheet."""
    page = Page(out)
    if isinstance(sheet, RecipeSheet):
        _recipe(page, sheet)
    else:
        _ingredient(page, sheet)


def _recipe(page: Page, sheet: RecipeSheet) -> None:
    own = sheet.recipe
    page.heading(2, f"{own.title} ({own.id}), {sheet.moment.revision}")
    page.paragraph(show_words.header(sheet))
    _charges(page, sheet)
    _figures(page, sheet)
    for title, pairs in (
        ("Process", show_words.steps(own)),
        ("Spec", [(name, str(value)) for name, value in own.spec_lines.items()]),
        ("Limits", show_words.limits(sheet)),
        ("Claims", [(one.claim, show_words.claim(sheet, one)) for one in sheet.claims]),
    ):
        if pairs:
            page.heading(3, title)
            page.table((title.lower(), ""), pairs)
    page.heading(3, "Label")
    if sheet.label is None:
        page.paragraph(show_words.NO_LABEL)
    else:
        page.line(rendered(printed(sheet.label)).removesuffix("\n"))
    _findings(page, sheet)
    page.paragraph(show_words.CAUTION)


def _charges(page: Page, sheet: RecipeSheet) -> None:
    page.heading(3, "Charges")
    rows: list[tuple[str, str, str, str]] = []
    for phase in show_words.phases(sheet):
        for row in phase.rows:
            remark = f"{row.amount}; {row.remark}" if row.amount and row.remark else row.amount or row.remark
            rows.append((phase.phase, row.ingredient, row.pct, remark))
        rows.append((phase.phase, f"{phase.title} together".strip(), phase.total, ""))
    rows += [("", name, words, "") for name, words in show_words.totals(sheet)]
    page.table(("phase", "ingredient", "%", ""), rows, numbers=(2,))
    lines = list(show_words.conversions(sheet))
    if lines:
        page.items(lines)
        page.line()


def _figures(page: Page, sheet: RecipeSheet) -> None:
    page.heading(3, f"Figures, prices of {sheet.terms.day}")
    found = show_words.figures(sheet)
    rows = [(row.name, row.value, row.unit, row.estimate) for row in found.plain]
    rows += [(row.name, row.value, row.unit, f"without water {row.dry}") for row in found.contents]
    page.table(("figure", "value", "unit", ""), rows, numbers=(1,))
    page.items([*(f"missing: {fact}" for fact in found.missing), *(f"note: {note}" for note in found.notes)])
    page.line()


def _ingredient(page: Page, sheet: IngredientSheet) -> None:
    own = sheet.ingredient
    page.heading(2, f"{own.title} ({own.id}), {sheet.moment.revision}")
    page.table(("fact", ""), show_words.ingredient_facts(sheet))
    page.heading(3, "Composition")
    page.table(("name", "%", "CAS"), show_words.composition(sheet), numbers=(1,))
    page.heading(3, "Goes into")
    page.line(rendered([table(sheet.used)]).removesuffix("\n"))
    _findings(page, sheet)


def _findings(page: Page, sheet: RecipeSheet | IngredientSheet) -> None:
    page.heading(3, "Findings")
    if sheet.findings:
        page.findings(sheet.findings)
    else:
        page.line("None.")
    page.line()
