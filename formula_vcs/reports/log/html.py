"""The versions of a recipe as a page: a step chart for each figure, and the table of all versions below."""

from __future__ import annotations

import datetime
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

_MOST: Final = 40  # changes of one version that are listed


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
                "open one where only a file moved that it rests on. Each chart has a scale of its own, which "
                "does not begin at zero.",
                "small muted",
            )
        )
        html += charts
        html.append(_table(sheet))
    html += [parts.paragraph(note, "small muted") for note in log_text.notes(sheet) if not note.startswith("~")]
    html.append(f"<h3>What changed, the newest first</h3>{_versions(sheet)}</section>")
    out.write(frame.page("Versions of a recipe", f"{sheet.title} ({sheet.recipe}), {sheet.revision}", "".join(html)))


def _chart(sheet: LogSheet, name: str) -> str:
    unit = logs.unit(sheet, name)
    dots = [_dot(row, name, unit) for row in sheet.rows if name in row.figures]
    if len(dots) < 2:
        return ""
    line = sheet.when.line if sheet.when is not None and sheet.when.line.figure == name else None
    limit = None if line is None else (line.value, when_words.line_words(line, unit))
    called = logs.called(sheet, name)
    return step_chart(f"{called[:1].upper()}{called[1:]}, {unit}" if unit else called, unit, dots, limit)


def _dot(row: LogRow, name: str, unit: str) -> Dot:
    figure, commit = row.figures[name], row.version.commit
    same = figure.unit == unit  # an amount in another currency has no place on the scale
    value = figure.value if same else None
    shown = logs.shown(figure)
    words = f"{commit.day}, {commit_words.who(commit)}: {shown} {figure.unit}. {commit_words.told(commit)[0]}"
    return Dot(_moment(row), value, shown, words, row.under)


def _moment(row: LogRow) -> datetime.datetime:
    try:
        moment = datetime.datetime.fromisoformat(row.version.commit.date)
    except ValueError:
        moment = datetime.datetime.combine(day_of(row.version), datetime.time())
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=datetime.UTC)


def _table(sheet: LogSheet) -> str:
    names = logs.columns(sheet)
    heads = [f"{logs.called(sheet, name)} {logs.unit(sheet, name)}".rstrip() for name in names]
    rows = [
        (row.version.commit.day, *(logs.shown(row.figures.get(name)) for name in names)) for row in sheet.rows[::-1]
    ]
    notes = [commit_words.name(row.version.commit) for row in sheet.rows[::-1]]
    numbers = tuple(range(1, 1 + len(names)))
    return parts.table("Every version with its figures, the newest first", ("version", *heads), rows, numbers, notes)


def _versions(sheet: LogSheet) -> str:
    return parts.items((_version(row) for row in sheet.rows[::-1]), "reasons")


def _version(row: LogRow) -> str:
    commit = row.version.commit
    subject, *reasons = commit_words.told(commit)
    head = f"{commit.day}, {commit_words.who(commit)}: {subject}"
    mark = f" {parts.tag('only under it', 'note')}" if row.under else ""
    reason = "".join(f"<br>{escape(line)}" for line in reasons)
    words = parts.items(parts.cut([escape(words) for words in row.words], _MOST, "changes"))
    spelled = f'<span class="id small">{escape(commit_words.name(commit))}</span>'
    return f"<strong>{escape(head)}</strong> {spelled}{mark}{reason}{words}"


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
