"""A trace as one page: what could explain it first, a control chart of each result, then the four parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TextIO

from formula_vcs import __version__
from formula_vcs.reports.page.control_chart import control_chart
from formula_vcs.reports.page.shell import document, escape
from formula_vcs.reports.review_document import ARROW
from formula_vcs.reports.trace import parts, words
from formula_vcs.reports.trace.values import Cell, name_of
from formula_vcs.trace.explain import Candidate, Explained
from formula_vcs.trace.lots_part import LotRow
from formula_vcs.trace.series import Series
from formula_vcs.trace.trace import Trace


def write(trace: Trace, charts: Sequence[Series], *, out: TextIO) -> None:
    """Write a trace."""
    title = words.title(trace)
    content = [
        f"<header><h1>{escape(title)}</h1>{_paragraphs(words.headers(trace), 'muted')}</header>",
        "<main>",
        _short(trace),
        _results(trace, charts),
        "" if trace.aim else _recipe(trace),
        _making(trace),
        _section("s4", "4. The lots", _lots(trace, trace.lots)),
        _explained(trace),
        _end(trace),
        f'<p class="small muted">made by git-formula {__version__}</p>',
        "</main>",
    ]
    out.write(document(title, "\n".join(filter(None, content))))


def _section(mark: str, title: str, *content: str) -> str:
    head = f'<h2 id="{mark}">{escape(title)}</h2>'
    return f'<section class="sheet" aria-labelledby="{mark}">{head}{"".join(content)}</section>'


def _paragraphs(texts: Iterable[str], css: str = "") -> str:
    klass = f' class="{css}"' if css else ""
    return "".join(f"<p{klass}>{escape(text)}</p>" for text in texts)


def _items(texts: Iterable[str], kind: str = "ul") -> str:
    rows = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<{kind}>{rows}</{kind}>" if rows else ""


def _short(trace: Trace) -> str:
    content = []
    none = words.nothing(trace)
    if none:
        missing = f"Not recorded: {'; '.join(trace.missing)}." if trace.missing else ""
        content.append(
            f'<div class="verdict"><p class="answer">{escape(none)}</p>{_paragraphs(filter(None, [missing]))}</div>'
        )
    content += [
        f'<div class="verdict warn"><p class="answer">{escape(one.head)}</p>'
        f"<p>{escape(one.verdict)}</p>{_items(one.fits, 'ol')}{_items(one.rest)}</div>"
        for one in words.summary(trace)
    ]
    if not content:
        content.append(f'<div class="verdict good"><p class="answer">{escape(words.calm(trace))}</p></div>')
    content += [f'<p><span class="tag warn">mind</span> {escape(flag)}</p>' for flag in trace.flags]
    return _section("s0", "In short", *content)


def _results(trace: Trace, charts: Sequence[Series]) -> str:
    cells = parts.result_cells(trace)
    content = _table(trace, "Results", cells) if cells else _paragraphs([words.NO_RESULTS])
    return _section("s1", "1. Results", content, *map(control_chart, charts))


def _table(trace: Trace, caption: str, cells: Iterable[Cell]) -> str:
    cells = list(cells)
    if not cells:
        return ""
    heads = ("", "spec" if trace.aim else name_of(trace.old), name_of(trace.new), "difference", "")
    head = "".join(f'<th scope="col">{escape(word)}</th>' for word in heads)
    rows = "".join(
        f'<tr><th scope="row">{escape(cell.name)}</th><td class="num">{escape(cell.old)}</td>'
        f'<td class="num">{escape(cell.new)}</td><td class="num">{escape(cell.difference)}</td>'
        f"<td>{escape(cell.remark)}</td></tr>"
        for cell in cells
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(caption)}"><table>'
        f"<caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _recipe(trace: Trace) -> str:
    rows = "".join(f"<li>{escape(text)}{_items(commits)}</li>" for text, commits in parts.recipe_lines(trace))
    listed = f"<ul>{rows}</ul>" if rows else ""
    verdict, rest = _paragraphs([parts.recipe_verdict(trace)]), _paragraphs(parts.recipe_rest(trace), "muted")
    return _section("s2", "2. The recipe between them", verdict, listed, rest)


def _making(trace: Trace) -> str:
    content: list[str] = []
    for caption, (cells, rest) in (("Weighings", parts.charge_cells(trace)), ("Steps", parts.step_cells(trace))):
        content.append(_table(trace, caption, cells))
        content.append(_paragraphs([rest] if rest else [], "muted"))
    content.append(_items(parts.course_lines(trace)))
    lived = _items(parts.lived_lines(trace))
    if lived:
        content.append(f"<h3>What charges lived through, worked out from what was done</h3>{lived}")
    return _section("s3", "3. The making", *content)


def _lots(trace: Trace, lots: Iterable[LotRow]) -> str:
    rows, rest = parts.lot_rows(lots)
    content = []
    for row in rows:
        cells, alike = parts.certificate_cells(row, aim=trace.aim)
        inner = "" if row.inner is None else _lots(trace, row.inner.lots)
        values = _items(_cell(cell) for cell in cells)
        more = f'<p class="muted">{escape(alike)}</p>' if alike else ""
        content.append(f"<li>{escape(parts.lot_title(row, aim=trace.aim))}{values}{more}{inner}</li>")
    listed = f"<ul>{''.join(content)}</ul>" if content else ""
    return listed + (f'<p class="muted">{escape(rest)}</p>' if rest else "")


def _cell(cell: Cell) -> str:
    values = f" {ARROW} ".join(filter(None, (cell.old, cell.new)))
    return "; ".join(filter(None, (f"{cell.name}: {values}", cell.difference, cell.remark)))


def _explained(trace: Trace) -> str:
    content = [_one(trace, one) for one in trace.explained] or [_paragraphs([words.unexplained(trace)])]
    if words.any_candidate(trace):
        content.append(_paragraphs([words.NO_PROOF, words.RANKING], "small muted"))
    return _section("s5", "5. What could explain it", *content)


def _one(trace: Trace, one: Explained) -> str:
    groups = [f"<ol>{''.join(map(_candidate, one.fits))}</ol>" if one.fits else ""]
    for title, group in (("Could be either way", one.open_), ("Points the other way", one.against)):
        if group:
            groups.append(f"<h4>{title}</h4><ul>{''.join(map(_candidate, group))}</ul>")
    verdict = "" if words.is_told(one) and one.all else _paragraphs([words.verdict(one)])
    return f"<h3>{escape(words.heading(one, trace))}</h3>{verdict}{''.join(groups)}"


def _candidate(candidate: Candidate) -> str:
    return f"<li><strong>{escape(words.candidate_title(candidate))}</strong>{_items(words.evidence(candidate))}</li>"


def _end(trace: Trace) -> str:
    lines = words.uncovered_lines(trace)
    other = _section("s6", "It differs too, and no row of the table is about it", _items(lines)) if lines else ""
    gaps = words.gap_lines(trace)
    return other + (_section("s7", "Not recorded", _items(gaps)) if gaps else "")
