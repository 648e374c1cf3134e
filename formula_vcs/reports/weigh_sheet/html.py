"""Weigh sheets as a page: read on a tablet, or printed on A4 and Letter, a sheet a recipe."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from formula_vcs.batches.weigh_sheet import CAUTION, SheetLine, SheetStep, WeighSheet
from formula_vcs.reports.page.shell import document, escape
from formula_vcs.reports.weigh_sheet import words

_ROOM = '<span class="room"><span class="seen-by-readers">to be written</span></span>'
_BOX = '<span class="box" aria-hidden="true"></span>'


def page(sheets: Sequence[WeighSheet]) -> str:
    """Give the page."""
    title = f"Weigh sheet {sheets[0].batch.id}" if sheets else "Weigh sheets"
    body = "\n".join(_sheet(sheet, number) for number, sheet in enumerate(sheets, 1))
    return document(title, f'<main class="weigh">\n{body}\n</main>')


def _sheet(sheet: WeighSheet, number: int) -> str:
    heading, part = ("h1", "h2") if number == 1 else ("h2", "h3")
    parts = [
        f'<section class="sheet" aria-labelledby="s{number}">',
        f'<{heading} id="s{number}">Weigh sheet {escape(sheet.batch.id)}</{heading}>',
        _head(sheet),
        *(f'<p class="verdict warn">{escape(note)}</p>' for note in sheet.notes),
        *_hazards(sheet, part),
        _weigh(sheet, number, part),
        _steps(sheet, part),
        *_end(sheet, part),
        f'<p class="small">{escape(CAUTION)}</p>',
        "</section>",
    ]
    return "\n".join(parts)


def _part(words_of_it: str, level: str) -> str:
    return f'<{level} class="part">{escape(words_of_it)}</{level}>'


def _head(sheet: WeighSheet) -> str:
    rows = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td>{escape(value) if value else _ROOM}</td></tr>'
        for name, value in words.header(sheet)
    )
    return f'<table class="head"><tbody>{rows}</tbody></table>'


def _hazards(sheet: WeighSheet, part: str) -> Iterator[str]:
    if sheet.hazards:
        yield _part(words.HAZARDS, part)
        yield (
            "<ul>"
            + "".join(
                f"<li><strong>{escape(found.code)}</strong> {escape(found.says)} "
                f'<span class="muted">{escape(", ".join(found.of))}</span></li>'
                for found in sheet.hazards
            )
            + "</ul>"
        )
    if sheet.wear or sheet.cautions:
        yield _part(words.WEAR, part)
        yield "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in (*sheet.wear, *sheet.cautions)) + "</ul>"


def _weigh(sheet: WeighSheet, number: int, part: str) -> str:
    rows: list[str] = []
    for phase, lines in groupby(sheet.lines, key=lambda line: line.phase):
        title = sheet.formula.recipe.phases.get(phase) or ""
        name = f"Phase {phase}" + (f": {title}" if title else "")
        rows.append(f'<tr class="phase"><th colspan="6" scope="colgroup">{escape(name)}</th></tr>')
        rows += [_line(line) for line in lines]
    return (
        f'<{part} class="part" id="w{number}">Weigh</{part}>\n'
        f'<div class="wide" tabindex="0" role="region" aria-labelledby="w{number}">'
        '<table class="lines"><thead><tr><th scope="col">Charge</th><th scope="col" class="n">Target</th>'
        '<th scope="col">Balance</th><th scope="col">Lot</th><th scope="col">Weighed</th><th scope="col">By</th>'
        f"</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def _line(line: SheetLine) -> str:
    below = [text for text in (line.part, line.kept) if text]
    if line.premix:
        below.append("a premix: its lot is the batch that made it")
    if line.hazards:
        below.append(" ".join(line.hazards))
    if line.second:
        below.append("second person checks the weighing")
    small = f'<br><span class="small muted">{escape("; ".join(below))}</span>' if below else ""
    allowed = f'<br><span class="small muted">{escape(line.allowed)}</span>' if line.allowed else ""
    second = f"<br>{_ROOM}" if line.second else ""
    return (
        f'<tr><th scope="row">{_BOX}{escape(line.title)}{small}</th>'
        f'<td class="n">{escape(line.target)}{allowed}</td><td>{escape(line.balance)}</td>'
        f"<td>{escape(line.lot) if line.lot else _ROOM}</td>"
        f'<td class="mass">{escape(line.weighed) if line.weighed else _ROOM}</td><td>{_ROOM}{second}</td></tr>'
    )


def _steps(sheet: WeighSheet, part: str) -> str:
    return f'{_part("Steps", part)}\n<ol class="steps">' + "".join(map(_step, sheet.steps)) + "</ol>"


def _step(step: SheetStep) -> str:
    title = f": {step.title}" if step.title else ""
    rows = [f"<p><strong>{_BOX}{escape(step.id + title)}</strong></p>"]
    said = []
    if step.adds:
        said.append(f"add {', '.join(step.adds)}")
    if step.joins:
        said.append(f"take over {', '.join(step.joins)}")
    points = "; ".join(words.set_points(step)) + (f" in {step.vessel}" if step.vessel else "")
    said += [text for text in (points.strip(), step.remark and f"scaled: {step.remark}") if text]
    rows += [f"<p>{escape(text)}</p>" for text in said]
    if step.measure:
        accept = f", accept {step.accept}" if step.accept else ""
        adjust = f"; adjust with {', '.join(step.adjust)}" if step.adjust else ""
        found = step.done.get("measured")
        rows.append(f"<p>{escape(f'measure {step.measure}{accept}{adjust}')}: {escape(found) if found else _ROOM}</p>")
    if step.note:
        rows.append(f'<p class="muted">{escape(step.note)}</p>')
    done = "; ".join(f"{name} {value}" for name, value in step.done.items())
    if done:
        rows.append(f"<p>done: {escape(done)}</p>")
    else:
        rows.append(f'<p class="fill-in">from {_ROOM} to {_ROOM} done {_ROOM} by {_ROOM}</p>')
    if step.second:
        rows.append(f"<p>second person checks the step: {_ROOM}</p>")
    return f"<li>{''.join(rows)}</li>"


def _end(sheet: WeighSheet, part: str) -> Iterator[str]:
    if sheet.spec:
        rows = "".join(
            f'<tr><th scope="row">{escape(name)}</th><td>{escape(span)}</td>'
            f"<td>{escape(sheet.results[name]) if name in sheet.results else _ROOM}</td></tr>"
            for name, span in sheet.spec.items()
        )
        yield (
            f'{_part("Results", part)}\n<table><thead><tr><th scope="col">Measured</th><th scope="col">Spec</th>'
            f'<th scope="col">Result</th></tr></thead><tbody>{rows}</tbody></table>'
        )
    if sheet.fill is not None:
        yield _part("Fill", part)
        yield (
            "<ul>"
            + "".join(f"<li>{escape(text)}</li>" for text in words.fill(sheet.fill, sheet.fill_basis, sheet.fillers))
            + "</ul>"
        )
    yield (
        f'{_part("End", part)}\n<p class="fill-in">made {_ROOM} packs {_ROOM} closed on {_ROOM}</p>'
        f"<p>deviations, and who decided:</p><p>{_ROOM * 3}</p>"
    )
