"""Weigh sheets as a page: read on a tablet, or printed on A4 and Letter, a sheet a recipe, in the order of work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from formula_vcs.batches.sheet_masses import StepCharge
from formula_vcs.batches.weigh_sheet import CAUTION, SheetLine, SheetPoint, SheetStep, WeighSheet
from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.paper import head_and_foot
from formula_vcs.reports.page.parts import tag
from formula_vcs.reports.page.shell import document, escape
from formula_vcs.reports.weigh_sheet import words
from formula_vcs.words.imitation import titled
from formula_vcs.words.numbers import printed

_ROOM = '<span class="room"><span class="seen-by-readers">to be written</span></span>'
_PARTS = 3  # of what is added to adjust, with a measurement after each


def page(sheets: Sequence[WeighSheet]) -> str:
    """Give the page.  The last sheet is that of the product: premixes are made first."""
    title = words.title(sheets[-1]) if sheets else "Weigh sheets"
    body = "\n".join(_sheet(sheet, number, sheets) for number, sheet in enumerate(sheets, 1))
    style = "".join(map(_paper, sheets, range(1, len(sheets) + 1)))
    return document(title, Markup(f'<main class="weigh">\n{body}\n</main>'), more_style=style)


def _paper(sheet: WeighSheet, number: int) -> str:
    mark = words.DRY_RUN if sheet.dry_run else ""
    right = f"{titled(sheet.formula.recipe.title)} ({sheet.batch.recipe}), {sheet.batch.size}"
    foot = f"commit {(sheet.batch.commit or '')[:10]}, content {(sheet.batch.hash or '')[:10]}"
    return head_and_foot(number, words.title(sheet), right, mark, foot)


def _sheet(sheet: WeighSheet, number: int, sheets: Sequence[WeighSheet]) -> str:
    heading, part = ("h1", "h2") if number == 1 else ("h2", "h3")
    warnings = (*sheet.notes, *words.unused(sheet))
    parts = [
        f'<section class="sheet p{number}" aria-labelledby="s{number}">',
        f'<{heading} id="s{number}">{escape(words.title(sheet))}</{heading}>',
        *([f'<p class="verdict bad"><strong>{escape(words.DRY_RUN_LINE)}</strong></p>'] if sheet.dry_run else []),
        *_plan(sheets, number, part),
        _head(sheet),
        *(f'<p class="verdict warn">{escape(printed(note))}</p>' for note in warnings),
        *_deviations(sheet, part),
        *_hazards(sheet, part),
        _weigh(sheet, number, part),
        _steps(sheet, part),
        *_end(sheet, part),
        f'<p class="small caution">{escape(CAUTION)}</p>',
        "</section>",
    ]
    text = "\n".join(parts)
    # nobody writes into a closed record; _ROOM is markup, which no text of a file can be
    return text.replace(_ROOM, f'<span class="muted">{words.NOT_RECORDED}</span>') if sheet.batch.closed else text


def _part(words_of_it: str, level: str) -> str:
    return f'<{level} class="part">{escape(words_of_it)}</{level}>'


def _box(*, ticked: bool) -> str:
    """Draw a box to tick; what is on record is ticked."""
    mark = (
        '<span class="box ticked" aria-hidden="true">\u2713</span>'
        if ticked
        else '<span class="box" aria-hidden="true"></span>'
    )
    return mark + ('<span class="seen-by-readers">done: </span>' if ticked else "")


def _plan(sheets: Sequence[WeighSheet], number: int, part: str) -> Iterator[str]:
    """Say on the first sheet in which order all are worked off."""
    plan = words.plan_of(sheets)
    if plan and number == 1:
        rows = "".join(
            f'<li><a href="#s{place}">{escape(text)}</a>{" (this sheet)" if place == 1 else ""}</li>'
            for place, text in enumerate(plan, 1)
        )
        yield f"{_part(f'{len(plan)} sheets, in the order of work: premixes first', part)}\n<ol>{rows}</ol>"


def _head(sheet: WeighSheet) -> str:
    rows = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(value) if value else _ROOM}</dd></div>"
        for name, value in words.header(sheet)
    )
    return f'<dl class="head">{rows}</dl>'


def _deviations(sheet: WeighSheet, part: str) -> Iterator[str]:
    found = words.deviations(sheet)
    if found:
        rows = "".join(f"<li>{escape(printed(text))}</li>" for text in found)
        yield f'<div class="verdict warn">{_part("Deviations on record", part)}<ul>{rows}</ul></div>'


def _hazards(sheet: WeighSheet, part: str) -> Iterator[str]:
    if sheet.hazards:
        yield _part(words.HAZARDS, part)
        yield (
            '<ul class="two">'
            + "".join(
                f"<li><strong>{escape(found.code)}</strong> {escape(found.says)} "
                f'<span class="muted">{escape(", ".join(found.of))}</span></li>'
                for found in sheet.hazards
            )
            + "</ul>"
        )
    if sheet.wear or sheet.cautions:
        yield _part(words.WEAR, part)
        yield (
            '<ul class="two">'
            + "".join(f"<li>{escape(printed(text))}</li>" for text in (*sheet.wear, *sheet.cautions))
            + "</ul>"
        )


_HEADS = (("Charge", ""), ("Weigh", "n"), ("On", ""), ("Lot", ""), ("Weighed", ""), ("By", ""))


def _weigh(sheet: WeighSheet, number: int, part: str) -> str:
    rows: list[str] = []
    for phase, lines in groupby(sheet.lines, key=lambda line: line.phase):
        title = sheet.formula.recipe.phases.get(phase) or ""
        name = f"Phase {phase}" + (f": {title}" if title else "")
        rows.append(f'<tr class="phase" role="row"><th colspan="6" scope="colgroup">{escape(name)}</th></tr>')
        rows += [_line(line) for line in lines]
    heads = "".join(
        f'<th scope="col" role="columnheader"{f" class={css!r}" if css else ""}>{name}</th>' for name, css in _HEADS
    )
    return (
        f'<{part} class="part" id="w{number}">Weigh</{part}>\n'
        f'<table class="lines" role="table" aria-labelledby="w{number}"><thead><tr role="row">{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def _line(line: SheetLine) -> str:
    below = "; ".join(words.beside(line))
    small = [f'<span class="small id">{escape(words.grade(line))}</span>']
    if line.others:
        small.append(f'<strong class="small warn">{escape(words.others(line))}</strong>')
    if below:
        small.append(f'<span class="small muted">{escape(below)}</span>')
    if line.second:
        small.append('<span class="small strong">second person checks the weighing</span>')
    window = f'<br><span class="window">{escape(line.window)}</span>' if line.window else ""
    off = f"<br>{tag(line.off, 'bad')}" if line.off else ""
    by = escape(line.by) if line.by else _ROOM
    if line.second or line.checked_by:
        by += f'<br><span class="small muted">checked</span> {escape(line.checked_by) if line.checked_by else _ROOM}'
    cells = (
        ("n target", f"<strong>{escape(line.target)}</strong>{window}", "Weigh"),
        ("", escape(line.balance), "On"),
        ("lot", escape(line.lot) if line.lot else _ROOM, "Lot"),
        ("mass", (escape(line.weighed) if line.weighed else _ROOM) + off, "Weighed"),
        ("", by, "By"),
    )
    tail = "".join(
        f'<td role="cell"{f" class={css!r}" if css else ""} data-name="{name}">{text}</td>' for css, text, name in cells
    )
    head = f"{_box(ticked=bool(line.weighed))}{escape(line.title)}<br>{'<br>'.join(small)}"
    return f'<tr role="row"><th scope="row" role="rowheader">{head}</th>{tail}</tr>'


def _steps(sheet: WeighSheet, part: str) -> str:
    if not sheet.steps:
        return ""
    return f'{_part("Steps", part)}\n<ol class="steps">' + "".join(map(_step, sheet.steps)) + "</ol>"


def _step(step: SheetStep) -> str:
    said = [f"<p><strong>{_box(ticked=step.recorded)}{escape(words.step_title(step))}</strong></p>"]
    if step.adds:
        where = f" into {step.vessel}" if step.vessel else ""
        said.append(f"<p>Add{escape(where)}:</p><ul class='adds'>{''.join(map(_added, step.adds))}</ul>")
    if step.joins:
        into = f" into {step.vessel}" if step.vessel else ""
        said.append(f"<p>Take over the content of {escape(', '.join(step.joins))}{escape(into)}.</p>")
    if not step.adds and not step.joins and step.vessel:
        said.append(f"<p>In {escape(step.vessel)}.</p>")
    if step.adjusts:
        said.append("<ul class='adds'>" + "".join(f"<li>{_adjusting(one)}</li>" for one in step.adjusts) + "</ul>")
    if step.remark:
        said.append(f"<p>{escape(printed(f'scaled: {step.remark}'))}</p>")
    if step.note:
        said.append(f'<p class="muted">{escape(printed(step.note))}</p>')
    rows = [_point(words.name_of(point), point) for point in step.points]
    if step.measure is not None:
        rows.append(_point(f"measure {step.measure.name}, accept", step.measure))
        if step.adjusts and not step.recorded:
            rows += [_added_part(part, step.measure.name) for part in range(1, _PARTS + 1)]
    table = (
        '<table class="points"><thead><tr><th scope="col">Set point</th><th scope="col">Wanted</th>'
        f'<th scope="col">Done</th></tr></thead><tbody>{"".join(rows)}</tbody></table>'
        if rows
        else ""
    )
    who = {
        "Started, date and time": step.started, "Ended": step.ended, "Done by": step.by,
        **({"Checked by a second person": step.checked_by} if step.second or step.checked_by else {}),
    }  # fmt: skip
    signed = "".join(
        f'<span><span class="small muted">{name}</span> {escape(text) if text else _ROOM}</span>'
        for name, text in who.items()
    )
    return (
        f'<li><div class="halves"><div>{"".join(said)}</div><div>{table}</div></div><p class="signed">{signed}</p></li>'
    )


def _added_part(part: int, name: str) -> str:
    """Leave room for one part of what adjusts, and for the measurement after it."""
    return f'<tr><th scope="row">part {part} added</th><td>{_ROOM}</td><td>{escape(name)} {_ROOM}</td></tr>'


def _added(charge: StepCharge) -> str:
    share = f" ({escape(charge.share)} of the charge)" if charge.share else ""
    mass = escape(charge.mass) if charge.mass else "mass not on file"
    return f"<li><strong>{mass}</strong> {escape(charge.title)}{share} {_id(charge)}</li>"


def _id(charge: StepCharge) -> str:
    return f'<span class="small id muted">{escape(charge.key)}</span>'


def _adjusting(charge: StepCharge) -> str:
    return f"<strong>{escape(words.adjusting(charge))}</strong> {_id(charge)}"


def _point(name: str, point: SheetPoint) -> str:
    off = f"<br>{tag(printed(point.off), 'bad')}" if point.off else ""
    done = (escape(printed(point.done)) if point.done else _ROOM) + off
    wanted = escape(printed(point.wanted)) or "not stated"
    return f'<tr><th scope="row">{escape(name)}</th><td>{wanted}</td><td>{done}</td></tr>'


def _end(sheet: WeighSheet, part: str) -> Iterator[str]:
    yield '<div class="end">'
    if sheet.results:
        rows = []
        for result in sheet.results:
            mark = words.result_mark(result)
            state = (
                f" {tag(mark, 'good' if mark == 'inside' else 'note' if not result.spec else 'bad')}" if mark else ""
            )
            value = escape(printed(result.value)) if result.value else _ROOM
            rows.append(
                f'<tr><th scope="row">{escape(result.name)}</th><td>{escape(printed(result.spec)) or "none"}</td>'
                f"<td>{value}{state}</td></tr>"
            )
        yield (
            f'{_part("Results", part)}\n<table><thead><tr><th scope="col">Measured</th><th scope="col">Spec</th>'
            f'<th scope="col">Result</th></tr></thead><tbody>{"".join(rows)}</tbody></table>'
        )
    if sheet.fill is not None:
        yield _part("Fill", part)
        yield (
            "<ul>"
            + "".join(
                f"<li>{escape(printed(text))}</li>" for text in words.fill(sheet.fill, sheet.fill_basis, sheet.fillers)
            )
            + "</ul>"
        )
    batch = sheet.batch
    filled = {
        "Made": str(batch.made or ""),
        **({} if sheet.formula.recipe.is_premix else {"Packs": "" if batch.packs is None else f"{batch.packs:,}"}),
        "Closed on": str(batch.closed or ""),
    }
    ends = "".join(
        f'<span><span class="small muted">{name}</span> {escape(text) if text else _ROOM}</span>'
        for name, text in filled.items()
    )
    yield f'{_part("End", part)}\n<p class="signed">{ends}</p>'
    found = words.deviations(sheet)
    if found:
        yield f"<p>Deviations on record:</p><ul>{''.join(f'<li>{escape(printed(text))}</li>' for text in found)}</ul>"
    elif batch.closed is not None:
        yield "<p>No deviation is recorded.</p>"
    else:
        yield f'<p>Deviations, and who decided:</p><p class="lines-to-write">{_ROOM}{_ROOM}{_ROOM}</p>'
    if sheet.hazards or sheet.wear or sheet.cautions:
        yield f'<p class="small muted">{escape(words.SOURCES)}</p>'
    yield "</div>"
