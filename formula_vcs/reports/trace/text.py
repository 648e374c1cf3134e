"""A trace for a terminal: what could explain it first, in short; then the four parts; then the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TextIO

from formula_vcs.reports.terminal import WIDTH, Ink, columns, cut, left
from formula_vcs.reports.trace import parts, words
from formula_vcs.reports.trace.values import Cell, name_of
from formula_vcs.trace.explain import Candidate, Explained
from formula_vcs.trace.lots_part import LotRow
from formula_vcs.trace.trace import Trace
from formula_vcs.words.escape import terminal

_MOST: int = 6  # candidates that are told with all their evidence


def write(trace: Trace, *, out: TextIO) -> None:
    """Write a trace."""
    ink = Ink(out)
    ink.wrapped(words.title(trace), style="strong")
    for line in words.headers(trace):
        ink.wrapped(line, "  ", "      ")
    _short(ink, trace)
    _results(ink, trace)
    if not trace.aim:
        _recipe(ink, trace)
    _making(ink, trace)
    _lots(ink, trace)
    _explained(ink, trace)
    _end(ink, trace)


def _head(ink: Ink, text: str) -> None:
    ink.line()
    ink.line(ink.paint(text, "strong"))


def _short(ink: Ink, trace: Trace) -> None:
    _head(ink, "In short")
    none = words.nothing(trace)
    if none:
        ink.wrapped(none, "  ")
        if trace.missing:
            ink.wrapped(f"Not recorded: {'; '.join(trace.missing)}.", "  ", "      ")
    told = list(words.summary(trace))
    if not told and not none:
        ink.wrapped(words.calm(trace), "  ")
    for one in told:
        ink.wrapped(one.head, "  ", "    ", "strong")
        ink.wrapped(one.verdict, "    ")
        for number, line in enumerate(one.fits, 1):
            ink.wrapped(line, f"    {number}. ", "       ")
        for line in one.rest:
            ink.wrapped(line, "    ", "       ", "dim")
    for flag in trace.flags:
        ink.wrapped(f"Mind: {flag}", "  ", "        ", "warn")


def _results(ink: Ink, trace: Trace) -> None:
    _head(ink, "1. Results")
    cells = parts.result_cells(trace)
    if not cells:
        ink.line(f"  {words.NO_RESULTS}")
    _table(ink, trace, cells)


def _table(ink: Ink, trace: Trace, cells: Sequence[Cell], indent: int = 2) -> None:
    """Write names and values in columns; what does not fit into a line stands below it."""
    heads = ("spec" if trace.aim else name_of(trace.old), name_of(trace.new))
    _columns(ink, heads, cells, indent)


def _columns(ink: Ink, heads: tuple[str, str], cells: Sequence[Cell], indent: int) -> None:
    if not cells:
        return
    texts = [tuple(terminal(part) for part in (cell.name, cell.old, cell.new)) for cell in cells]
    rows = [("", *(terminal(head) for head in heads)), *texts] if any(heads) else texts
    widths = [min(max(columns(row[i]) for row in rows), (34, 22, 22)[i]) for i in range(3)]
    pad = " " * indent

    def line(row: tuple[str, str, str]) -> str:
        return pad + "  ".join(left(cut(part, width), width) for part, width in zip(row, widths, strict=True)).rstrip()

    if any(heads):
        ink.line(ink.paint(line(("", terminal(heads[0]), terminal(heads[1]))), "dim"))
    for cell, row in zip(cells, texts, strict=True):
        first = line((row[0], row[1], row[2]))
        gap = terminal(cell.difference)
        if gap and columns(first) + 2 + columns(gap) <= WIDTH:
            first, gap = f"{first}  {gap}", ""
        ink.line(first)
        rest = "; ".join(filter(None, (gap, cell.remark)))
        if rest:
            ink.wrapped(rest, f"{pad}    ")


def _recipe(ink: Ink, trace: Trace) -> None:
    _head(ink, "2. The recipe between them")
    ink.wrapped(parts.recipe_verdict(trace), "  ")
    for text, commits in parts.recipe_lines(trace):
        ink.wrapped(text, "  - ", "    ")
        for commit in commits:
            ink.wrapped(commit, "      ", "        ")
    for line in parts.recipe_rest(trace):
        ink.wrapped(line, "  ")


def _making(ink: Ink, trace: Trace) -> None:
    _head(ink, "3. The making")
    cells, rest = parts.charge_cells(trace)
    _table(ink, trace, cells)
    if rest:
        ink.wrapped(rest, "  ")
    cells, rest = parts.step_cells(trace)
    _table(ink, trace, cells)
    if rest:
        ink.wrapped(rest, "  ")
    for line in parts.course_lines(trace):
        ink.wrapped(line, "  ", "    ")
    lived = list(parts.lived_lines(trace))
    if lived:
        ink.line("  What charges lived through, worked out from what was done:")
    for line in lived:
        ink.wrapped(line, "    ", "      ")


def _lots(ink: Ink, trace: Trace) -> None:
    _head(ink, "4. The lots")
    _lot_rows(ink, trace, trace.lots, 2)


def _lot_rows(ink: Ink, trace: Trace, lots: Iterable[LotRow], indent: int) -> None:
    pad = " " * indent
    rows, rest = parts.lot_rows(lots)
    for row in rows:
        ink.wrapped(parts.lot_title(row, aim=trace.aim), pad, f"{pad}    ")
        cells, alike = parts.certificate_cells(row, aim=trace.aim)
        _columns(ink, ("", ""), cells, indent + 2)
        if alike:
            ink.wrapped(alike, f"{pad}  ")
        if row.inner is not None:
            _lot_rows(ink, trace, row.inner.lots, indent + 4)
    if rest:
        ink.wrapped(rest, pad)


def _explained(ink: Ink, trace: Trace) -> None:
    _head(ink, "5. What could explain it")
    if not trace.explained:
        ink.line(f"  {words.unexplained(trace)}")
        return
    for one in trace.explained:
        _one(ink, trace, one)
    if words.any_candidate(trace):
        ink.line()
        ink.wrapped(f"{words.NO_PROOF} {words.RANKING}", "  ", style="dim")


def _one(ink: Ink, trace: Trace, one: Explained) -> None:
    ink.wrapped(words.heading(one, trace), "  ", "    ", "strong")
    if not words.is_told(one) or not one.all:
        ink.wrapped(words.verdict(one), "    ")
    for number, candidate in enumerate(one.fits[:_MOST], 1):
        _candidate(ink, candidate, f"    {number}. ")
    _more(ink, len(one.fits))
    for title, group in (("Could be either way:", one.open_), ("Points the other way:", one.against)):
        if group:
            ink.line(f"    {title}")
        for candidate in group[:_MOST]:
            _candidate(ink, candidate, "    - ")
        _more(ink, len(group))


def _more(ink: Ink, count: int) -> None:
    if count > _MOST:
        ink.line(f"       and {count - _MOST} more, see --format json")


def _candidate(ink: Ink, candidate: Candidate, lead: str) -> None:
    ink.wrapped(words.candidate_title(candidate), lead, "       ")
    for line in words.evidence(candidate):
        ink.wrapped(line, "         ", "           ")


def _end(ink: Ink, trace: Trace) -> None:
    lines = words.uncovered_lines(trace)
    if lines:
        _head(ink, "It differs too, and no row of the table is about it")
        for line in lines:
            ink.wrapped(line, "  - ", "    ")
    gaps = words.gap_lines(trace)
    if gaps:
        _head(ink, "Not recorded")
    for line in gaps:
        ink.wrapped(line, "  - ", "    ")
