"""One recipe or ingredient for a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TextIO

from formula_vcs.reports import figure_words
from formula_vcs.reports.document.blocks import FindingLine
from formula_vcs.reports.document.text import write_blocks
from formula_vcs.reports.label import printed
from formula_vcs.reports.sheets import IngredientSheet, RecipeSheet, RevisionShown
from formula_vcs.reports.show import words as show_words
from formula_vcs.reports.terminal import WIDTH, Ink, at_point, columns, cut, left, right
from formula_vcs.reports.uses import table
from formula_vcs.words.escape import terminal


def write(sheet: RecipeSheet | IngredientSheet, *, out: TextIO) -> None:
    """Write a sheet."""
    ink = Ink(out)
    if isinstance(sheet, RecipeSheet):
        recipe(ink, sheet)
    else:
        ingredient(ink, sheet)


def recipe(ink: Ink, sheet: RecipeSheet) -> None:
    """Write charges, figures, process, spec, claims, label and findings of a recipe."""
    own = sheet.recipe
    opening(ink, own.title, own.id, sheet.moment)
    ink.wrapped(show_words.header(sheet))
    ink.line()
    _charges(ink, sheet)
    _figures(ink, sheet)
    _pairs(ink, "Process", show_words.steps(own), numbered=True)
    _pairs(ink, "Spec", [(name, str(value)) for name, value in own.spec_lines.items()])
    _pairs(ink, "Limits", show_words.limits(sheet))
    _pairs(ink, "Claims", [(item.claim, show_words.claim(sheet, item)) for item in sheet.claims])
    ink.line(ink.paint("Label", "strong") + ("" if sheet.label is None else f", {sheet.label.market}"))
    if sheet.label is None:
        ink.wrapped(show_words.NO_LABEL, "  ")
    else:
        write_blocks(ink, printed(sheet.label, 2))
    ink.line()
    _findings(ink, sheet)
    ink.wrapped(show_words.CAUTION)


def ingredient(ink: Ink, sheet: IngredientSheet) -> None:
    """Write what is known of a material, its composition, and where it goes."""
    own = sheet.ingredient
    opening(ink, own.title, own.id, sheet.moment)
    _pairs(ink, "", show_words.ingredient_facts(sheet))
    ink.line(ink.paint("Composition", "strong"))
    rows = show_words.composition(sheet)
    width = max((columns(terminal(inci)) for inci, _, _ in rows), default=0)
    for (inci, _, cas), share in zip(rows, at_point([share for _, share, _ in rows]), strict=True):
        ink.line(f"  {left(terminal(inci), min(width, 50))}  {share} %  {terminal(cas)}".rstrip())
    if not rows:
        ink.line("  not known")
    ink.line()
    ink.line(ink.paint("Goes into", "strong"))
    write_blocks(ink, [table(sheet.used)])
    ink.line()
    _findings(ink, sheet)


def opening(ink: Ink, title: str, name: str, moment: RevisionShown) -> None:
    """Write the title, the id at the right, and which file at which moment this is."""
    name = terminal(name)
    words = cut(terminal(title), WIDTH - columns(name) - 2)
    ink.line(f"{left(ink.paint(words, 'strong'), WIDTH - columns(name))}{name}")
    commit = f" ({moment.commit[:10]})" if moment.commit and not moment.commit.startswith(moment.revision) else ""
    ink.wrapped(f"{moment.file}, {moment.revision}{commit}", style="dim")


def _charges(ink: Ink, sheet: RecipeSheet) -> None:
    phases, totals = show_words.phases(sheet), show_words.totals(sheet)
    rows = [row for phase in phases for row in phase.rows]
    widths = tuple(
        min(max((columns(terminal(text)) for text in texts), default=0), most)
        for texts, most in (([row.ingredient for row in rows], 32), ([row.amount for row in rows], 20))
    )
    numbers = iter(
        at_point([*(text for phase in phases for text in (*(r.pct for r in phase.rows), phase.total)), totals[0][1]])
    )
    gap = 3 + widths[0] + (widths[1] + 2 if widths[1] else 0) + 2
    for phase in phases:
        name, title = cut(terminal(phase.phase), 20), cut(terminal(phase.title), WIDTH - 24)
        ink.line(f"{ink.paint(name, 'strong')}  {title}".rstrip())
        for row in phase.rows:
            _charge(ink, row, widths, next(numbers))
        ink.line(f"{' ' * gap}{ink.paint(f'{next(numbers)}  phase {name}', 'dim')}")
    ink.line(f"{left(ink.paint('total', 'strong'), gap)}{next(numbers)} %")
    for name, words in totals[1:]:
        ink.wrapped(words, left(name, gap))
    for words in show_words.conversions(sheet):
        ink.wrapped(words, "   ")
    ink.line()


def _charge(ink: Ink, row: show_words.ChargeRow, widths: tuple[int, ...], share: str) -> None:
    name, amount = (
        cut(terminal(text), width) for text, width in zip((row.ingredient, row.amount), widths, strict=True)
    )
    taken = f"  {right(amount, widths[1])}" if widths[1] else ""
    lead = f"   {left(name, widths[0])}{taken}  {share}  "
    ink.line(f"{lead}{cut(terminal(row.remark), WIDTH - columns(lead))}".rstrip())


def _figures(ink: Ink, sheet: RecipeSheet) -> None:
    ink.line(ink.paint("Figures", "strong") + f", prices of {sheet.terms.day}")
    found = show_words.figures(sheet)
    name = max((columns(row.name) for row in (*found.plain, *found.contents)), default=0) + 2
    value = max((columns(row.value) for row in (*found.plain, *found.contents)), default=0)
    for row in found.plain:
        estimate = f"  {row.estimate}" if row.estimate else ""
        ink.line(f"  {left(row.name, name)}  {right(row.value, value)} {terminal(row.unit)}{estimate}".rstrip())
    if found.contents:
        ink.line(f"  {left('by ISO 16128', name)}  {right('', value)}    without water")
    for row in found.contents:
        dry = f"{row.dry} %" if row.dry != figure_words.NOT_KNOWN else row.dry
        ink.line(f"    {left(row.name, name - 2)}  {right(row.value, value)} {left(row.unit, 1)}  {right(dry, 13)}")
    for title, lines in (("missing: ", found.missing), ("note: ", found.notes)):
        for line in lines:
            ink.wrapped(line, f"  {title}")
    ink.line()


def _pairs(ink: Ink, title: str, pairs: Iterable[tuple[str, str]], *, numbered: bool = False) -> None:
    pairs = list(pairs)
    if not pairs:
        return
    if title:
        ink.line(ink.paint(title, "strong"))
    width = min(max(columns(terminal(name)) for name, _ in pairs), 44)
    for position, (name, words) in enumerate(pairs, 1):
        number = f"{position:>2} " if numbered else ""
        ink.wrapped(words, f"  {number}{left(terminal(name), width)}  ")
    ink.line()


def _findings(ink: Ink, sheet: RecipeSheet | IngredientSheet) -> None:
    ink.line(ink.paint("Findings", "strong"))
    for finding in sheet.findings:
        write_blocks(ink, [FindingLine(finding, indent=2)])
    if not sheet.findings:
        ink.line("  none")
    ink.line()
