"""Weigh sheets for a terminal or a plain printer: 80 columns, with room to write."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TextIO

from formula_vcs.batches.weigh_sheet import CAUTION, SheetLine, SheetStep, WeighSheet
from formula_vcs.reports.terminal import Ink, cut, left, right
from formula_vcs.reports.weigh_sheet import words
from formula_vcs.words.escape import terminal

_ROOM = "_" * 12


def write(sheets: Sequence[WeighSheet], *, out: TextIO) -> None:
    """Write sheets one after the other."""
    ink = Ink(out)
    for number, sheet in enumerate(sheets):
        if number:
            ink.line()
            ink.line("=" * 80)
            ink.line()
        _sheet(ink, sheet)


def _sheet(ink: Ink, sheet: WeighSheet) -> None:
    ink.wrapped(f"Weigh sheet {sheet.batch.id}", style="strong")
    for name, value in words.header(sheet):
        ink.wrapped(value or _ROOM * 2, left(f"{name}:", 12), " " * 12)
    for note in sheet.notes:
        ink.wrapped(note, "! ", "  ", style="warn")
    _hazards(ink, sheet)
    ink.line()
    ink.line(ink.paint(f"{left('Weigh', 35)} {right('target', 14)} {left(' weighed', 13)} lot        by", "strong"))
    for phase, lines in groupby(sheet.lines, key=lambda line: line.phase):
        title = sheet.formula.recipe.phases.get(phase) or ""
        ink.wrapped(f"Phase {phase}" + (f": {title}" if title else ""))
        for line in lines:
            _line(ink, line)
    ink.line()
    ink.line(ink.paint("Steps", "strong"))
    for step in sheet.steps:
        _step(ink, step)
    _end(ink, sheet)


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
    title = left(cut(terminal(line.title), 33), 33)
    weighed = cut(terminal(line.weighed), 11) if line.weighed else "_" * 11
    lot = terminal(line.lot)
    # a lot may be long: it then stands whole on the line below
    short = left(lot, 10) if 0 < len(lot) <= 10 else "below     " if lot else "_" * 10
    ink.line(f"  {title} {right(terminal(line.target), 14)}  {left(weighed, 11)}  {short} ____")
    below = [text for text in (line.part, line.balance and f"on {line.balance}", line.allowed, line.kept) if text]
    if len(lot) > 10:
        below.append(f"lot {line.lot}")
    if line.premix:
        below.append("a premix: its lot is the batch that made it")
    if line.hazards:
        below.append(" ".join(line.hazards))
    if below:
        ink.wrapped("; ".join(below), "      ", "      ", style="dim")
    if line.second:
        ink.wrapped(f"second person checks the weighing: {_ROOM * 2}", "      ")


def _step(ink: Ink, step: SheetStep) -> None:
    title = f": {step.title}" if step.title else ""
    ink.wrapped(f"[ ] {step.number}. {step.id}{title}", "", "       ", style="strong")
    if step.adds:
        ink.wrapped(f"add {', '.join(step.adds)}", "      ", "        ")
    if step.joins:
        ink.wrapped(f"take over {', '.join(step.joins)}", "      ", "        ")
    where = f" in {step.vessel}" if step.vessel else ""
    points = words.set_points(step)
    if points or where:
        ink.wrapped("; ".join(points) + where if points else where.strip(), "      ", "        ")
    if step.remark:
        ink.wrapped(f"scaled: {step.remark}", "      ", "        ")
    if step.measure:
        accept = f", accept {step.accept}" if step.accept else ""
        adjust = f"; adjust with {', '.join(step.adjust)}" if step.adjust else ""
        ink.wrapped(
            f"measure {step.measure}{accept}{adjust}: {step.done.get('measured') or _ROOM}", "      ", "        "
        )
    if step.note:
        ink.wrapped(f"note: {step.note}", "      ", "        ")
    done = "; ".join(f"{name} {value}" for name, value in step.done.items())
    if done:
        ink.wrapped(f"done: {done}", "      ", "        ")
    else:
        ink.line(f"      from {'_' * 8} to {'_' * 8}  done {'_' * 22} by {'_' * 8}")
    if step.second:
        ink.wrapped(f"second person checks the step: {_ROOM * 2}", "      ")


def _end(ink: Ink, sheet: WeighSheet) -> None:
    if sheet.spec:
        ink.line()
        ink.line(ink.paint("Results", "strong"))
        for name, span in sheet.spec.items():
            ink.wrapped(f"{name}: {sheet.results.get(name) or _ROOM}  (spec {span})", "  ", "      ")
    if sheet.fill is not None:
        ink.line()
        ink.line(ink.paint("Fill", "strong"))
        for text in words.fill(sheet.fill, sheet.fill_basis, sheet.fillers):
            ink.wrapped(text, "  ", "      ")
    ink.line()
    ink.line(f"Made: {_ROOM}  Packs: {_ROOM}  Closed on: {_ROOM}")
    ink.wrapped(f"Deviations: {'_' * 66}")
    ink.line()
    ink.wrapped(CAUTION)
