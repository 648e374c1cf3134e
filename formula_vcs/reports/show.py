"""One recipe or ingredient, with all that follows from it; or parts of a recipe in place of that."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from formula_vcs.reports import figure_words, show_record, show_words
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    FindingLine,
    Heading,
    Items,
    KeyValues,
    ListEntry,
    OnTerminal,
    Paragraph,
    Report,
    Row,
    TableBlock,
    strong,
)  # fmt: skip
from formula_vcs.reports.label import printed
from formula_vcs.reports.sheets import IngredientSheet, RecipeSheet, RevisionShown
from formula_vcs.reports.terminal import WIDTH, Ink, at_point, columns, cut, left, right
from formula_vcs.reports.uses import table
from formula_vcs.words.escape import terminal
from formula_vcs.words.imitation import titled

if TYPE_CHECKING:
    from formula_vcs.figures.process_run import Process
    from formula_vcs.model.approval import ApprovalStanding
    from formula_vcs.reports.evidence_sheet import EvidenceSheet


class ShowParts(NamedTuple):
    """What is shown in place of a recipe's sheet, and in json beside it."""

    process: Process | None = None
    preservation: bool = False
    evidence: EvidenceSheet | None = None
    approvals: ApprovalStanding | None = None


class SheetShown(NamedTuple):
    """A sheet, or parts of it."""

    sheet: RecipeSheet | IngredientSheet
    parts: ShowParts = ShowParts()


def document(subject: SheetShown) -> Document:
    """Say charges, figures, process, spec, claims, label and findings; of an ingredient what is known of it."""
    sheet, parts = subject
    if isinstance(sheet, IngredientSheet):
        return Document(titled(sheet.ingredient.title), tuple(_ingredient(sheet)))
    chosen = tuple(_parts(sheet, parts)) if any(parts) else tuple(_recipe(sheet))
    return Document(titled(sheet.recipe.title), chosen)


def _parts(sheet: RecipeSheet, parts: ShowParts) -> Iterator[Block]:
    level = 1
    for blocks in _chosen(sheet, parts):
        if level > 1:
            yield GAP
        yield from blocks(level)
        level = 2


def _chosen(sheet: RecipeSheet, parts: ShowParts) -> Iterator[Any]:
    process, evidence, approvals = parts.process, parts.evidence, parts.approvals
    if process is not None:
        from formula_vcs.reports.process import process_blocks

        yield lambda level: process_blocks(titled(sheet.recipe.title), process, level)
    if parts.preservation:
        from formula_vcs.reports.preservation import preservation_blocks

        yield lambda level: preservation_blocks(sheet, level)
    if evidence is not None:
        from formula_vcs.reports.evidence import evidence_blocks

        yield lambda level: evidence_blocks(evidence, level)
    if approvals is not None:
        from formula_vcs.reports.approvals.words import standing_blocks

        yield lambda level: standing_blocks(approvals, level, decisions=True)


def _recipe(sheet: RecipeSheet) -> Iterator[Block]:
    own = sheet.recipe
    yield from _opening(own.title, own.id, sheet.moment)
    yield Paragraph(show_words.header(sheet))
    yield GAP
    yield OnTerminal(lambda ink: _draw_charges(ink, sheet), tuple(_charges(sheet)))
    yield from _figures(sheet)
    yield from _pairs("Process", show_words.steps(own), numbered=True)
    yield from _pairs("Spec", [(name, str(value)) for name, value in own.spec.items()])
    yield from _pairs("Limits", show_words.limits(sheet))
    yield from _pairs("Claims", [(item.claim, show_words.claim(sheet, item)) for item in sheet.claims])
    if sheet.label is None:
        yield Heading("Label", 2)
        yield Paragraph(show_words.NO_LABEL, indent=2)
    else:
        yield Heading((strong("Label"), f", {sheet.label.market}"), 2)
        yield from printed(sheet.label, 2)
    yield GAP
    yield from _findings(sheet)
    yield Paragraph(show_words.CAUTION)


def _ingredient(sheet: IngredientSheet) -> Iterator[Block]:
    own = sheet.ingredient
    yield from _opening(own.title, own.id, sheet.moment)
    yield from _pairs("", show_words.ingredient_facts(sheet))
    yield Heading("Composition", 2)
    yield TableBlock(
        (Column("name", most=50, whole=True), Column("share", "point"), Column("CAS")),
        tuple(Row((inci, f"{share} %", cas)) for inci, share, cas in show_words.composition(sheet)),
        "Composition",
        empty="not known",
    )
    yield GAP
    yield Heading("Goes into", 2)
    yield table(sheet.used)
    yield GAP
    yield from _findings(sheet)


def _opening(title: str, name: str, moment: RevisionShown) -> Iterator[Block]:
    """Give the title, the id at the right, and which file at which moment this is."""
    commit = f" ({moment.commit[:10]})" if moment.commit and not moment.commit.startswith(moment.revision) else ""
    yield Heading(titled(title), name=name, name_at="right")
    yield Paragraph(f"{moment.file}, {moment.revision}{commit}", "dim")


def _pairs(title: str, pairs: Iterable[tuple[str, str]], *, numbered: bool = False) -> Iterator[Block]:
    pairs = tuple(pairs)
    if not pairs:
        return
    if title:
        yield Heading(title, 2)
    yield KeyValues(pairs, title or "What is known of it", aligned=True, numbered=numbered)
    yield GAP


def _findings(sheet: RecipeSheet | IngredientSheet) -> Iterator[Block]:
    yield Heading("Findings", 2)
    yield from (FindingLine(finding, indent=2) for finding in sheet.findings)
    if not sheet.findings:
        yield Paragraph("none", indent=2)
    yield GAP


def _charges(sheet: RecipeSheet) -> Iterator[Block]:
    rows: list[Row] = []
    for phase in show_words.phases(sheet):
        above = f"{phase.phase}  {phase.title}".rstrip()
        for row in phase.rows:
            rows.append(Row((row.ingredient, row.amount, row.pct, row.remark), above=above))
            above = ""
        rows.append(Row(("", "", phase.total, f"phase {phase.phase}"), above=above, look="dim"))
    (name, whole), *more = show_words.totals(sheet)
    rows.append(Row((strong(name), "", f"{whole} %", "")))
    yield TableBlock(
        (Column("ingredient"), Column("amount", "right"), Column("%", "right"), Column("")), tuple(rows), "Charges"
    )
    yield from (Paragraph(f"{name}: {words}") for name, words in more)
    lines = tuple(map(ListEntry, show_words.conversions(sheet)))
    yield Items(lines)


def _draw_charges(ink: Ink, sheet: RecipeSheet) -> None:
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
            _draw_charge(ink, row, widths, next(numbers))
        ink.line(f"{' ' * gap}{ink.paint(f'{next(numbers)}  phase {name}', 'dim')}")
    ink.line(f"{left(ink.paint('total', 'strong'), gap)}{next(numbers)} %")
    for name, words in totals[1:]:
        ink.wrapped(words, left(name, gap))
    for words in show_words.conversions(sheet):
        ink.wrapped(words, "   ")
    ink.line()


def _draw_charge(ink: Ink, row: show_words.ChargeRow, widths: Sequence[int], share: str) -> None:
    name, amount = (
        cut(terminal(text), width) for text, width in zip((row.ingredient, row.amount), widths, strict=True)
    )
    taken = f"  {right(amount, widths[1])}" if widths[1] else ""
    lead = f"   {left(name, widths[0])}{taken}  {share}  "
    ink.line(f"{lead}{cut(terminal(row.remark), WIDTH - columns(lead))}".rstrip())


def _figures(sheet: RecipeSheet) -> Iterator[Block]:
    found = show_words.figures(sheet)
    yield Heading((strong("Figures"), f", prices of {sheet.terms.day}"), 2)
    yield OnTerminal(
        lambda ink: _draw_figures(ink, found),
        (
            TableBlock(
                (Column("figure"), Column("value", "right"), Column("unit"), Column("")),
                tuple(Row((row.name, row.value, row.unit, row.estimate)) for row in found.plain),
                "Figures",
            ),
            TableBlock(
                (Column("by ISO 16128"), Column("value", "right"), Column("unit"), Column("without water", "right")),
                tuple(Row((row.name, row.value, row.unit, _dry(row))) for row in found.contents),
                "Figures by ISO 16128",
            ),
        ),
    )
    yield Items(tuple(ListEntry(f"missing: {line}") for line in found.missing), hang=9)
    yield Items(tuple(ListEntry(f"note: {line}") for line in found.notes), hang=6)
    yield GAP


def _dry(row: show_words.FigureRow) -> str:
    return f"{row.dry} %" if row.dry != figure_words.NOT_KNOWN else row.dry


def _draw_figures(ink: Ink, found: show_words.Figures) -> None:
    rows = (*found.plain, *found.contents)
    name = max((columns(row.name) for row in rows), default=0) + 2
    value = max((columns(row.value) for row in rows), default=0)
    for row in found.plain:
        estimate = f"  {row.estimate}" if row.estimate else ""
        ink.line(f"  {left(row.name, name)}  {right(row.value, value)} {terminal(row.unit)}{estimate}".rstrip())
    if found.contents:
        ink.line(f"  {left('by ISO 16128', name)}  {right('', value)}    without water")
    for row in found.contents:
        ink.line(
            f"    {left(row.name, name - 2)}  {right(row.value, value)} {left(row.unit, 1)}  {right(_dry(row), 13)}"
        )


def record(subject: SheetShown) -> dict[str, Any]:
    """Give a sheet as data, and the parts that were asked for beside it."""
    sheet, parts = subject
    if isinstance(sheet, IngredientSheet):
        return show_record.ingredient(sheet)
    return {**show_record.recipe(sheet), **dict(_part_records(sheet, parts))}


def _part_records(sheet: RecipeSheet, parts: ShowParts) -> Iterator[tuple[str, Any]]:
    if parts.process is not None:
        from formula_vcs.reports.process_record import process

        yield "process", process(sheet.sums, parts.process)
    if parts.preservation:
        from formula_vcs.reports.preservation_record import preservation

        yield "preservation", preservation(sheet)
    if parts.evidence is not None:
        from formula_vcs.reports.evidence_record import evidence

        yield "evidence", evidence(parts.evidence)
    if parts.approvals is not None:
        from formula_vcs.reports.approvals.json import approvals

        yield "approvals", approvals(parts.approvals)


REPORT: Final = Report("show", "show", document, record)
