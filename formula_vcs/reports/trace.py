"""A trace: what could explain it first, in short; then the four parts; then the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final, NamedTuple

from formula_vcs import __version__
from formula_vcs.reports import trace_parts, trace_record, trace_words
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Fold,
    Heading,
    Items,
    ListEntry,
    OnTerminal,
    Paragraph,
    Picture,
    Report,
    Row,
    TableBlock,
    Verdict,
)  # fmt: skip
from formula_vcs.reports.page.control_chart import control_chart
from formula_vcs.reports.review_document import ARROW
from formula_vcs.reports.terminal import WIDTH, Ink, columns, cut, left
from formula_vcs.reports.trace_values import Cell, name_of
from formula_vcs.trace.explain import Candidate, Explained
from formula_vcs.trace.lots_part import LotRow
from formula_vcs.trace.series import Series
from formula_vcs.trace.trace import Trace
from formula_vcs.words.escape import terminal

_MOST: Final = 6  # candidates that are told with all their evidence


class TraceShown(NamedTuple):
    """A trace, and its results over the batches, which a page draws."""

    trace: Trace
    charts: Sequence[Series] = ()


def document(subject: TraceShown) -> Document:
    """Say what could explain it, then the four parts."""
    trace = subject.trace
    title = trace_words.title(trace)
    return Document(
        title,
        (
            Heading(title),
            *(Paragraph(line, indent=2, hang=4) for line in trace_words.headers(trace)),
            *_short(trace),
            *_results(subject),
            *(() if trace.aim else _recipe(trace)),
            *_making(trace),
            *_part("4. The lots"),
            *_lots(trace, trace.lots, 2),
            *_explained(trace),
            *_end(trace),
        ),
        foot=f"made by git-formula {__version__}",
    )


def _part(title: str) -> Iterator[Block]:
    yield GAP
    yield Heading(title, 2)


def _short(trace: Trace) -> Iterator[Block]:
    yield from _part("In short")
    none = trace_words.nothing(trace)
    if none:
        missing = f"Not recorded: {'; '.join(trace.missing)}."
        said = [Paragraph(none, indent=2), *([Paragraph(missing, indent=2, hang=4)] if trace.missing else [])]
        yield Verdict(tuple(said))
    told = list(trace_words.summary(trace))
    if not told and not none:
        yield Verdict((Paragraph(trace_words.calm(trace), indent=2),), "good")
    for one in told:
        lines: list[Block] = [
            Paragraph(one.head, "strong", indent=2, hang=2), Paragraph(one.verdict, indent=4),
            Items(tuple(map(ListEntry, one.fits)), numbered=True, indent=4, hang=3),
            Items(tuple(ListEntry(line, look="dim") for line in one.rest), indent=4, hang=3),
        ]  # fmt: skip
        yield Verdict(tuple(lines), "warn")
    yield from (Paragraph(f"Mind: {flag}", "warn", indent=2, hang=6) for flag in trace.flags)


def _results(subject: TraceShown) -> Iterator[Block]:
    yield from _part("1. Results")
    cells = trace_parts.result_cells(subject.trace)
    if not cells:
        yield Paragraph(trace_words.NO_RESULTS, indent=2)
    yield from _table(subject.trace, "Results", cells)
    yield from (Picture(control_chart(chart), ()) for chart in subject.charts)


def _table(trace: Trace, caption: str, cells: Sequence[Cell]) -> Iterator[Block]:
    """Give names and values in columns."""
    if not cells:
        return
    heads = ("spec" if trace.aim else name_of(trace.old), name_of(trace.new))
    yield OnTerminal(
        lambda ink: _draw_columns(ink, heads, cells, 2),
        (
            TableBlock(
                (Column(""), Column(heads[0]), Column(heads[1]), Column("difference"), Column("remark")),
                tuple(Row((cell.name, cell.old, cell.new, cell.difference, cell.remark)) for cell in cells),
                caption,
            ),
        ),
    )


def _draw_columns(ink: Ink, heads: tuple[str, str], cells: Sequence[Cell], indent: int) -> None:
    """Draw names and values in columns; what does not fit into a line stands below it."""
    texts = [tuple(terminal(part) for part in (cell.name, cell.old, cell.new)) for cell in cells]
    rows = [("", *(terminal(head) for head in heads)), *texts] if any(heads) else texts
    widths = [min(max(columns(row[i]) for row in rows), (34, 22, 22)[i]) for i in range(3)]
    pad = " " * indent

    def line(row: Sequence[str]) -> str:
        return pad + "  ".join(left(cut(part, width), width) for part, width in zip(row, widths, strict=True)).rstrip()

    if any(heads):
        ink.line(ink.paint(line(("", terminal(heads[0]), terminal(heads[1]))), "dim"))
    for cell, row in zip(cells, texts, strict=True):
        first = line(row)
        gap = terminal(cell.difference)
        if gap and columns(first) + 2 + columns(gap) <= WIDTH:
            first, gap = f"{first}  {gap}", ""
        ink.line(first)
        rest = "; ".join(filter(None, (gap, cell.remark)))
        if rest:
            ink.wrapped(rest, f"{pad}    ")


def _recipe(trace: Trace) -> Iterator[Block]:
    yield from _part("2. The recipe between them")
    yield Paragraph(trace_parts.recipe_verdict(trace), indent=2)
    changes = tuple(
        ListEntry(text, (Items(tuple(map(ListEntry, commits)), indent=6),))
        for text, commits in trace_parts.recipe_lines(trace)
    )
    yield Items(changes, mark="- ")
    yield from (Paragraph(line, indent=2) for line in trace_parts.recipe_rest(trace))


def _making(trace: Trace) -> Iterator[Block]:
    yield from _part("3. The making")
    for caption, (cells, rest) in (
        ("Weighings", trace_parts.charge_cells(trace)),
        ("Steps", trace_parts.step_cells(trace)),
    ):
        yield from _table(trace, caption, cells)
        if rest:
            yield Paragraph(rest, indent=2)
    yield _list(trace_parts.course_lines(trace))
    lived = tuple(trace_parts.lived_lines(trace))
    if lived:
        yield Paragraph("What charges lived through, worked out from what was done:", indent=2)
        yield _list(lived, indent=4)


def _list(lines: Iterable[str], mark: str = "", indent: int = 2) -> Items:
    return Items(tuple(map(ListEntry, lines)), mark=mark, indent=indent)


def _lots(trace: Trace, lots: Iterable[LotRow], indent: int) -> Iterator[Block]:
    rows, rest = trace_parts.lot_rows(lots)
    yield Items(tuple(_lot(trace, row, indent) for row in rows), indent=indent, hang=4)
    if rest:
        yield Paragraph(rest, indent=indent)


def _lot(trace: Trace, row: LotRow, indent: int) -> ListEntry:
    cells, alike = trace_parts.certificate_cells(row, aim=trace.aim)
    below: list[Block] = []
    if cells:
        lines = Items(tuple(ListEntry(_cell(cell)) for cell in cells))
        below.append(OnTerminal(lambda ink: _draw_columns(ink, ("", ""), cells, indent + 2), (lines,)))
    if alike:
        below.append(Paragraph(alike, indent=indent + 2))
    if row.inner is not None:
        below += _lots(trace, row.inner.lots, indent + 4)
    return ListEntry(trace_parts.lot_title(row, aim=trace.aim), tuple(below))


def _cell(cell: Cell) -> str:
    values = f" {ARROW} ".join(filter(None, (cell.old, cell.new)))
    return "; ".join(filter(None, (f"{cell.name}: {values}", cell.difference, cell.remark)))


def _explained(trace: Trace) -> Iterator[Block]:
    yield from _part("5. What could explain it")
    if not trace.explained:
        yield Paragraph(trace_words.unexplained(trace), indent=2)
        return
    for one in trace.explained:
        yield from _one(trace, one)
    if trace_words.any_candidate(trace):
        yield GAP
        yield Paragraph(f"{trace_words.NO_PROOF} {trace_words.RANKING}", "dim", indent=2)


def _one(trace: Trace, one: Explained) -> Iterator[Block]:
    yield Heading(trace_words.heading(one, trace), 3, indent=2, hang=2)
    if not trace_words.is_told(one) or not one.all:
        yield Paragraph(trace_words.verdict(one), indent=4)
    yield from _candidates(one.fits, numbered=True)
    for title, group in (("Could be either way:", one.open_), ("Points the other way:", one.against)):
        if group:
            yield Paragraph(title, indent=4)
            yield from _candidates(group)


def _candidates(found: Sequence[Candidate], *, numbered: bool = False) -> Iterator[Block]:
    entries = tuple(map(_candidate, found))
    mark = "" if numbered else "- "
    yield Items(entries[:_MOST], mark, numbered, indent=4, hang=3)
    if len(entries) > _MOST:
        rest = Items(entries[_MOST:], mark, indent=4, hang=3)
        yield Fold(f"and {len(entries) - _MOST} more, see --format json", (rest,), brief=True, indent=7)


def _candidate(candidate: Candidate) -> ListEntry:
    return ListEntry(trace_words.candidate_title(candidate), (_list(trace_words.evidence(candidate), indent=9),))


def _end(trace: Trace) -> Iterator[Block]:
    lines = trace_words.uncovered_lines(trace)
    if lines:
        yield from _part("It differs too, and no row of the table is about it")
        yield _list(lines, "- ")
    gaps = trace_words.gap_lines(trace)
    if gaps:
        yield from _part("Not recorded")
        yield _list(gaps, "- ")


def record(subject: TraceShown) -> dict[str, Any]:
    """Give a trace as data."""
    return trace_record.data(subject.trace)


REPORT: Final = Report("trace", "trace", document, record)
