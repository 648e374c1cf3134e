"""The versions of a recipe as a page: a step chart for each figure, and the table of all versions below."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Final, TextIO

from formula_vcs.history.crossing import Crossing, day_of
from formula_vcs.reports import commit_words
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log import text as log_text
from formula_vcs.reports.log import when as when_words
from formula_vcs.reports.log.sheet import LogRow, LogSheet
from formula_vcs.reports.page import frame, parts
from formula_vcs.reports.page.shell import escape
from formula_vcs.reports.page.time_chart import Dot, step_chart
from formula_vcs.reports.short_words import counted
from formula_vcs.words.imitation import headed
from formula_vcs.words.late_pattern import late_pattern

_MOST: Final = 40  # changes of one version that are listed
_FEW: Final = 3  # renewed papers that stand by themselves; more are folded into one line
_PAPER: Final = late_pattern(r", (?:origin source|certificate \d+ valid to): .+ \u2192 ")


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write the page."""
    html = [f'<section class="sheet" id="r1"><h2>{escape(log_text.heading(sheet))}</h2>']
    html += _when(sheet)
    charts = [chart for name in logs.columns(sheet) if (chart := _chart(sheet, name))]
    if charts:
        html.append("<h3>Over time</h3>")
        html.append(
            parts.paragraph(
                "Each figure holds from one version to the next. A full dot is a version that changed the recipe, an "
                "open one where only a file moved that it rests on; its number is that of its row in the table. Each "
                "chart has a scale of its own, which does not begin at zero.",
                "small muted",
            )
        )
        html += charts
    html += [parts.paragraph(note, "small muted") for note in log_text.notes(sheet) if not note.startswith("~")]
    html.append(f"<h3>Every version, the newest first</h3>{_table(sheet)}</section>")
    about = f"{headed(sheet.title, sheet.recipe)}, {sheet.revision}"
    out.write(frame.page("Versions of a recipe", about, "".join(html), made=logs.made(sheet)))


def _chart(sheet: LogSheet, name: str) -> str:
    unit = logs.unit(sheet, name)
    dots = [_dot(row, name, unit, number) for number, row in enumerate(sheet.rows, 1) if name in row.figures]
    if len(dots) < 2:
        return ""
    line = sheet.when.line if sheet.when is not None and sheet.when.line.figure == name else None
    limit = sheet.marks.get(name) if line is None else (line.value, when_words.line_words(line, unit))
    called = logs.called(sheet, name)
    return step_chart(f"{called[:1].upper()}{called[1:]}, {unit}" if unit else called, unit, dots, limit)


def _dot(row: LogRow, name: str, unit: str, number: int) -> Dot:
    figure, commit = row.figures[name], row.version.commit
    same = figure.unit == unit  # an amount in another currency has no place on the scale
    value = figure.value if same else None
    shown = logs.shown(figure)
    words = f"{commit.day}, {commit_words.who(commit)}: {shown} {figure.unit}. {commit_words.told(commit)[0]}"
    return Dot(_moment(row), value, shown, words, row.under, number)


def _moment(row: LogRow) -> datetime.datetime:
    try:
        moment = datetime.datetime.fromisoformat(row.version.commit.date)
    except ValueError:
        moment = datetime.datetime.combine(day_of(row.version), datetime.time())
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=datetime.UTC)


def _table(sheet: LogSheet) -> str:
    names = logs.columns(sheet)
    heads = [f"{logs.called(sheet, name)} {logs.unit(sheet, name)}".rstrip() for name in names]
    numbered = list(enumerate(sheet.rows, 1))[::-1]
    rows = [
        (
            f"{number}. {row.version.commit.day}",
            *(escape(logs.shown(row.figures.get(name))) for name in names),
            _version(row),
        )
        for number, row in numbered
    ]
    notes = [commit_words.name(row.version.commit) for _, row in numbered]
    numbers = tuple(range(1, 1 + len(names)))
    caption = "Every version with its figures and what changed, the newest first"
    table = parts.html_table(caption, ("version", *heads, "what changed"), rows, numbers, notes, named=True)
    return f'<div class="versions">{table}</div>'


def _version(row: LogRow) -> str:
    commit = row.version.commit
    subject, *reasons = commit_words.told(commit)
    head = f"{commit_words.who(commit)}: {subject}"
    mark = f" {parts.tag('ingredient data', 'note')}" if row.under else ""
    reason = "".join(f"<br>{escape(line)}" for line in reasons)
    told, renewed = _parted(row.words)
    words = parts.items(parts.cut([escape(words) for words in told], _MOST, "changes"))
    if renewed:
        folded = parts.items(parts.cut([escape(words) for words in renewed], _MOST, "changes"))
        words += parts.folded(_renewed(renewed), folded)
    return f"<strong>{escape(head)}</strong>{mark}{reason}{words}"


def _parted(words: Sequence[str]) -> tuple[list[str], list[str]]:
    """Part papers that were only renewed, where there are several, from what a reader wants to see."""
    renewed = [text for text in words if _PAPER.search(text)]
    if len(renewed) < _FEW:
        return list(words), []
    return [text for text in words if not _PAPER.search(text)], renewed


def _renewed(words: Sequence[str]) -> str:
    certificates = sum("certificate" in text for text in words)
    counts = {"supplier statement": len(words) - certificates, "certificate": certificates}
    said = " and ".join(counted(count, name) for name, count in counts.items() if count)
    return f"{said} renewed"


def _when(sheet: LogSheet) -> list[str]:
    when = sheet.when
    if when is None:
        return []
    unit = logs.unit(sheet, when.line.figure)
    found = [
        f'<div class="verdict"><p class="answer">{escape(when_words.verdict(sheet, when, unit))}</p>',
        parts.paragraph(when_words.question(when, unit)),
        parts.paragraph(when_words.now_words(when, unit)),
        "</div>",
    ]
    found.append(parts.items((_crossing(crossing) for crossing in when.crossings), "reasons"))
    return found


def _crossing(crossing: Crossing) -> str:
    commit = crossing.version.commit
    back = "back: " if crossing.back else ""
    head = f"{commit.day} {commit_words.name(commit)}, {commit_words.who(commit)}: {back}{when_words.step(crossing)}"
    lines = commit_words.told(commit)
    lines += [when_words.doer_words(doer, crossing) for doer in crossing.doers]
    lines += when_words.remarks(crossing)
    return f"<strong>{escape(head)}</strong>{''.join(f'<br>{escape(line)}' for line in lines)}"
