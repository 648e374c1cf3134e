"""A trace as markdown."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TextIO

from formula_vcs.reports.table_markdown import Page
from formula_vcs.reports.trace import parts, words
from formula_vcs.reports.trace.values import Cell, name_of
from formula_vcs.trace.explain import Candidate
from formula_vcs.trace.lots_part import LotRow
from formula_vcs.trace.trace import Trace
from formula_vcs.words.escape import markdown


def write(trace: Trace, *, out: TextIO) -> None:
    """Write a trace."""
    page = Page(out)
    page.heading(2, words.title(trace))
    page.items(words.headers(trace))
    page.line()
    _short(page, trace)
    page.heading(3, "1. Results")
    _table(page, trace, parts.result_cells(trace))
    if not trace.results:
        page.paragraph(words.NO_RESULTS)
    if not trace.aim:
        _recipe(page, trace)
    _making(page, trace)
    page.heading(3, "4. The lots")
    _lots(page, trace, trace.lots, 0)
    page.line()
    _explained(page, trace)
    _end(page, trace)


def _short(page: Page, trace: Trace) -> None:
    none = words.nothing(trace)
    if none:
        page.paragraph(none)
        if trace.missing:
            page.paragraph(f"Not recorded: {'; '.join(trace.missing)}.")
    told = list(words.summary(trace))
    if not told and not none:
        page.paragraph(words.calm(trace))
    for one in told:
        page.line(f"**{markdown(one.head)}** {markdown(one.verdict)}")
        page.line()
        for number, line in enumerate(one.fits, 1):
            page.line(f"{number}. {markdown(line)}")
        page.line()
        page.items(one.rest)
        page.line()
    page.items(f"Mind: {flag}" for flag in trace.flags)
    page.line()


def _table(page: Page, trace: Trace, cells: Iterable[Cell]) -> None:
    cells = list(cells)
    if not cells:
        return
    heads = ("spec" if trace.aim else name_of(trace.old), name_of(trace.new))
    rows = [(cell.name, cell.old, cell.new, cell.difference, cell.remark) for cell in cells]
    page.table(("", *(markdown(head) for head in heads), "difference", ""), rows)


def _recipe(page: Page, trace: Trace) -> None:
    page.heading(3, "2. The recipe between them")
    page.paragraph(parts.recipe_verdict(trace))
    for text, commits in parts.recipe_lines(trace):
        page.items([text])
        page.items(commits, 1)
    page.line()
    for line in parts.recipe_rest(trace):
        page.paragraph(line)


def _making(page: Page, trace: Trace) -> None:
    page.heading(3, "3. The making")
    for cells, rest in (parts.charge_cells(trace), parts.step_cells(trace)):
        _table(page, trace, cells)
        if rest:
            page.paragraph(rest)
    page.items(parts.course_lines(trace))
    lived = list(parts.lived_lines(trace))
    page.items([f"worked out from what was done: {line}" for line in lived])
    page.line()


def _lots(page: Page, trace: Trace, lots: Iterable[LotRow], indent: int) -> None:
    rows, rest = parts.lot_rows(lots)
    for row in rows:
        page.items([parts.lot_title(row, aim=trace.aim)], indent)
        cells, alike = parts.certificate_cells(row, aim=trace.aim)
        page.items((_cell(cell) for cell in cells), indent + 1)
        page.items([alike] if alike else [], indent + 1)
        if row.inner is not None:
            _lots(page, trace, row.inner.lots, indent + 1)
    page.items([rest] if rest else [], indent)


def _cell(cell: Cell) -> str:
    values = " \u2192 ".join(filter(None, (cell.old, cell.new)))
    return "; ".join(filter(None, (f"{cell.name}: {values}", cell.difference, cell.remark)))


def _explained(page: Page, trace: Trace) -> None:
    page.heading(3, "5. What could explain it")
    for one in trace.explained:
        page.heading(4, words.heading(one, trace))
        if not words.is_told(one) or not one.all:
            page.paragraph(words.verdict(one))
        for number, candidate in enumerate(one.fits, 1):
            _candidate(page, candidate, f"{number}. ")
        for title, group in (("Could be either way:", one.open_), ("Points the other way:", one.against)):
            if group:
                page.line()
                page.paragraph(title)
            for candidate in group:
                _candidate(page, candidate, "- ")
        page.line()
    if words.any_candidate(trace):
        page.paragraph(f"{words.NO_PROOF} {words.RANKING}")
    elif not trace.explained:
        page.paragraph(words.unexplained(trace))


def _candidate(page: Page, candidate: Candidate, lead: str) -> None:
    page.line(f"{lead}{markdown(words.candidate_title(candidate))}")
    for line in words.evidence(candidate):
        page.line(f"   - {markdown(line)}")


def _end(page: Page, trace: Trace) -> None:
    lines = words.uncovered_lines(trace)
    if lines:
        page.heading(3, "It differs too, and no row of the table is about it")
        page.items(lines)
        page.line()
    gaps = words.gap_lines(trace)
    if gaps:
        page.heading(3, "Not recorded")
        page.items(gaps)
