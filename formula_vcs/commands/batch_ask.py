"""Fill a batch in by answers: one question a line, each answer written before the next question."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from formula_vcs.commands.batch_lots import lot_trouble
from formula_vcs.errors import OK, UserError
from formula_vcs.figures.tolerance import mistaken_words
from formula_vcs.model.batch import Batch, BatchCharge, BatchStep
from formula_vcs.model.recipe import STEP_VALUES
from formula_vcs.model.spec_line import conforms
from formula_vcs.model.values import dataclass
from formula_vcs.toml.batch_edit import facts_in
from formula_vcs.units.unit_reading import QuantityError, read_quantity
from formula_vcs.words.escape import terminal
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    from formula_vcs.commands.batch_record import Open

Answer = str | int | datetime.datetime
_CLOCK: Final = late_pattern(r"([01]?\d|2[0-3])[:.]([0-5]\d)")
_HELP: Final = """\
Enter leaves it open, q stops; = takes a set point as the sheet has it, but never
a mass. Each answer is written at once."""


@dataclass(frozen=True)
class Question:
    """What is asked: the words, where the answer goes, how it is read, and what "=" stands for."""

    words: str
    path: tuple[str, ...]
    kind: str
    sheet: str = ""
    target: Fraction | None = None


def ask(opened: Open) -> int:
    """Ask for everything that is open; the end of the input, or q, leaves the rest open."""
    print(_HELP)
    asked: set[tuple[str, ...]] = set()
    while True:
        batch = Batch(opened.batch.id, facts_in(opened.text), opened.batch.file)
        question = next((one for one in _questions(batch, opened) if one.path not in asked), None)
        if question is None:
            return OK
        asked.add(question.path)
        try:
            if not _put(opened, question):
                return OK
        except KeyboardInterrupt:
            print("\nstopped; what was answered before is written")
            raise


def _put(opened: Open, question: Question) -> bool:
    """Ask until the answer can be read; False where there are no more answers."""
    hint = f" [{question.sheet}]" if question.sheet else ""
    while True:
        sys.stdout.write(f"{terminal(question.words)}{terminal(hint)}: ")
        sys.stdout.flush()
        line = sys.stdin.readline()
        answer = line.strip()
        if not line or answer in ("q", "quit"):
            print()
            return False
        if not answer:
            return True
        if answer == "=" and question.sheet and question.kind != "mass":
            answer = question.sheet
        try:
            opened.put(question.path, _read(answer, question, opened))
        except UserError as error:
            print(f"  {terminal(str(error))}")
            continue
        opened.save()
        if question.path[-1] == "lot" and opened.formula is not None:
            day = opened.batch.date or opened.day
            trouble = lot_trouble(question.path[3], answer, opened.formula, opened.here, day)
            if trouble:
                print(f"  written, but: {terminal(trouble)}")
        return True


def _read(answer: str, question: Question, opened: Open) -> Answer:
    """Turn an answer into what the file holds; units and dimensions are the file's to check."""
    if question.kind == "moment":
        clock = _CLOCK.fullmatch(answer)
        if clock:
            day = opened.batch.date or opened.day
            return datetime.datetime.combine(day, datetime.time(int(clock[1]), int(clock[2])))
        try:
            return datetime.datetime.fromisoformat(answer)
        except ValueError:
            raise UserError(f"'{answer}' is no time; write 9:30, or 2026-03-04 09:30") from None
    if question.kind == "conforms":
        judged = conforms(answer)
        if judged is None:
            raise UserError(f"'{answer}' does not say whether it conforms; write yes or no")
        return judged
    if question.kind == "count":
        if not answer.isascii() or not answer.isdigit():
            raise UserError(f"'{answer}' is no whole number")
        return int(answer[:12])
    if question.kind == "mass":
        try:
            mass = read_quantity(answer, "mass")
        except QuantityError as bad:
            raise UserError(bad.message) from None
        hint = "" if question.target is None else mistaken_words(mass.base, question.target)
        if hint:
            raise UserError(f"{answer} is {hint}")
    return answer


def _questions(batch: Batch, opened: Open) -> Iterator[Question]:
    if batch.made_by is None:
        yield Question("made by", ("made_by",), "text")
    for charge in batch.charges:
        yield from _of_charge(charge, opened)
    for step in batch.steps:
        yield from _of_step(step, batch, opened)
    for name, line in (opened.formula.recipe.spec_lines if opened.formula is not None else {}).items():
        if ("result", name) not in batch.facts:
            words = f"{name} (spec {line}){': conforms, yes or no' if line.words else ''}"
            yield Question(words, ("result", name), "conforms" if line.words else "text")
    if batch.made is None:
        yield Question("made, in all", ("made",), "mass")
    if batch.packs is None and batch.pack is not None:
        yield Question(f"packs of {batch.pack}", ("packs",), "count")


def _of_charge(charge: BatchCharge, opened: Open) -> Iterator[Question]:
    title = charge.key if opened.formula is None else f"{charge.key}, {opened.formula.title(charge.ingredient)}"
    for number, portion in enumerate(charge.weighings, 1):
        part = f", part {number}" if len(charge.weighings) > 1 else ""
        if portion.lot is None:
            yield Question(f"{title}{part}: lot", (*portion.path, "lot"), "text")
        if portion.weighed is None:
            target = portion.target
            mass = None if target is None else target.base
            sheet = "" if target is None else str(target)
            yield Question(f"{title}{part}: weighed", (*portion.path, "weighed"), "mass", sheet, mass)


def _of_step(step: BatchStep, batch: Batch, opened: Open) -> Iterator[Question]:
    name = f"step {step.name}"
    for moment in ("started", "ended"):
        if step.moment(moment) is None:
            yield Question(f"{name}: {moment}", (*step.path, moment), "moment")
    targets = step.target
    for value in STEP_VALUES:
        if value in targets and value not in step.done:
            yield Question(f"{name}: {value}", (*step.path, value), "text", str(targets[value]))
    steps = () if opened.formula is None else opened.formula.recipe.steps
    recipe = next((found for found in steps if found.id == step.id), None)
    if recipe is not None and recipe.measure and "measured" not in step.done:
        words = f"{name}: {recipe.measure} measured (accept {targets.get('accept', '')})"
        yield Question(words, (*step.path, "measured"), "text")
    if step.done_by is None:
        yield Question(f"{name}: done by", (*step.path, "done_by"), "text", batch.made_by or "")
