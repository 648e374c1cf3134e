"""Weigh sheets for a terminal or a plain printer: 80 columns, with room to write."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TextIO

from formula_vcs.batches.weigh_sheet import CAUTION, SheetLine, SheetPoint, SheetStep, WeighSheet
from formula_vcs.reports.terminal import Ink, cut, folded, left, right
from formula_vcs.reports.weigh_sheet import words
from formula_vcs.words.escape import terminal

_ROOM = "_" * 12


def write(sheets: Sequence[WeighSheet], *, out: TextIO) -> None:
    """Write sheets one after the other, in the order of work."""
    ink = Ink(out)
    plan = words.plan_of(sheets)
    if plan:
        ink.line(ink.paint(f"{len(plan)} sheets, in the order of work: premixes first", "strong"))
        for number, text in enumerate(plan, 1):
            ink.wrapped(text, f"  {number}. ", "     ")
        ink.line()
    for number, sheet in enumerate(sheets):
        if number:
            ink.line()
            ink.line("=" * 80)
            ink.line()
        _sheet(ink, sheet)


def _sheet(ink: Ink, sheet: WeighSheet) -> None:
    ink.wrapped(words.title(sheet), style="strong")
    if sheet.dry_run:
        ink.wrapped(words.DRY_RUN_LINE, "! ", "  ", style="block")
    for name, value in words.header(sheet):
        ink.wrapped(value or _ROOM * 2, left(f"{name}:", 12), " " * 12)
    for note in (*sheet.notes, *words.unused(sheet)):
        ink.wrapped(note, "! ", "  ", style="warn")
    for text in words.deviations(sheet):
        ink.wrapped(f"deviation on record: {text}", "! ", "  ", style="warn")
    _hazards(ink, sheet)
    ink.line()
    ink.line(ink.paint(f"{left('Weigh', 35)} {right('target', 14)} {left(' weighed', 13)} lot        by", "strong"))
    for phase, lines in groupby(sheet.lines, key=lambda line: line.phase):
        title = sheet.formula.recipe.phases.get(phase) or ""
        ink.wrapped(f"Phase {phase}" + (f": {title}" if title else ""))
        for line in lines:
            _line(ink, line)
    ink.line()
    if sheet.steps:
        ink.line(ink.paint("Steps", "strong"))
    for step in sheet.steps:
        _step(ink, step, words.NOT_RECORDED if sheet.batch.closed else _ROOM)
    _end(ink, sheet)
    if sheet.dry_run:
        ink.line(words.DRY_RUN)


def _hazards(ink: Ink, sheet: WeighSheet) -> None:
    if sheet.hazards:
        ink.line()
        ink.wrapped(words.HAZARDS, style="strong")
        for hazard in sheet.hazards:
            ink.wrapped(f"{hazard.code} {hazard.says} ({', '.join(hazard.of)})", "  ", "      ")
    if sheet.wear or sheet.cautions:
        ink.wrapped(words.WEAR, style="strong")
    for text in (*sheet.wear, *sheet.cautions):
        ink.wrapped(text, "  ", "      ")


def _line(ink: Ink, line: SheetLine) -> None:
    names = folded(terminal(line.title), 33, 33)
    weighed = cut(terminal(line.weighed), 11) if line.weighed else "_" * 11
    lot, by = terminal(line.lot), terminal(line.by)
    # a lot may be long: it then stands whole on the line below
    short = left(lot, 10) if 0 < len(lot) <= 10 else "below     " if lot else "_" * 10
    ink.line(f"  {left(names[0], 33)} {right(terminal(line.target), 14)}  {left(weighed, 11)}  {short} ____")
    for rest in names[1:]:
        ink.line(f"    {rest}")
    ink.wrapped(words.grade(line), "      ", "      ")
    if line.off:
        ink.wrapped(f"outside: {line.off}", "      ! ", "        ", style="block")
    if line.others:
        ink.wrapped(words.others(line), "      ! ", "        ", style="warn")
    span = f"{line.window} ({line.allowed})" if line.window else ""
    below = [text for text in (span, line.balance and f"on {line.balance}") if text]
    below += words.beside(line)
    if len(lot) > 10:
        below.append(f"lot {line.lot}")
    if by:
        below.append(f"by {line.by}")
    if line.checked_by:
        below.append(f"checked by {line.checked_by}")
    ink.wrapped("; ".join(below), "      ", "      ", style="dim")
    if line.second and not line.checked_by:
        ink.wrapped(f"second person checks the weighing: {_ROOM * 2}", "      ")


def _step(ink: Ink, step: SheetStep, room: str) -> None:
    tick = "x" if step.recorded else " "
    ink.wrapped(f"[{tick}] {step.number}. {words.step_title(step)}", "", "       ", style="strong")
    into = f" into {step.vessel}" if step.vessel else ""
    if step.adds:
        ink.wrapped(f"add{into}:", "      ", "        ")
        for charge in step.adds:
            ink.wrapped(f"{words.added(charge)} ({charge.key})", "        ", "          ")
    if step.joins:
        ink.wrapped(f"take over the content of {', '.join(step.joins)}{into}", "      ", "        ")
    if not step.adds and not step.joins and step.vessel:
        ink.wrapped(f"in {step.vessel}", "      ", "        ")
    for point in step.points:
        _point(ink, words.name_of(point), point, room)
    if step.remark:
        ink.wrapped(f"scaled: {step.remark}", "      ", "        ")
    for charge in step.adjusts:
        ink.wrapped(f"{words.adjusting(charge)} ({charge.key})", "      ", "        ")
    if step.measure is not None:
        _point(ink, f"measure {step.measure.name}, accept", step.measure, room)
    if step.note:
        ink.wrapped(f"note: {step.note}", "      ", "        ")
    short = _ROOM[:8] if room == _ROOM else room
    times = f"started {step.started or short}  ended {step.ended or short}"
    ink.wrapped(f"{times}  done by {step.by or short}", "      ", "        ")
    if step.second or step.checked_by:
        ink.wrapped(f"second person checks the step: {step.checked_by or _ROOM * 2}", "      ")


def _point(ink: Ink, name: str, point: SheetPoint, room: str) -> None:
    off = f"  ! {point.off}" if point.off else ""
    ink.wrapped(f"{name} {point.wanted or 'not stated'}: {point.done or room}{off}", "      ", "        ")


def _end(ink: Ink, sheet: WeighSheet) -> None:
    batch = sheet.batch
    room = words.NOT_RECORDED if batch.closed else _ROOM
    if sheet.results:
        ink.line()
        ink.line(ink.paint("Results", "strong"))
        for result in sheet.results:
            mark = words.result_mark(result)
            said = f", {mark}" if mark else ""
            spec = f"spec {result.spec}" if result.spec else "no spec"
            ink.wrapped(f"{result.name}: {result.value or room}{said}  ({spec})", "  ", "      ")
    if sheet.fill is not None:
        ink.line()
        ink.line(ink.paint("Fill", "strong"))
        for text in words.fill(sheet.fill, sheet.fill_basis, sheet.fillers):
            ink.wrapped(text, "  ", "      ")
    ink.line()
    packs = "" if sheet.formula.recipe.is_premix else f"  Packs: {room if batch.packs is None else batch.packs}"
    ink.line(f"Made: {batch.made or room}{packs}  Closed on: {batch.closed or room}")
    found = words.deviations(sheet)
    for text in found:
        ink.wrapped(f"Deviation: {text}", "", "  ")
    if not found:
        ink.wrapped("No deviation is recorded." if batch.closed else f"Deviations: {'_' * 66}")
    ink.line()
    if sheet.hazards or sheet.wear or sheet.cautions:
        ink.wrapped(words.SOURCES)
    ink.wrapped(CAUTION)
