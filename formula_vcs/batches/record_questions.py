"""What is still open in a batch, as questions to a person, and how an answer is read."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.batches.open_record import OpenRecord
from formula_vcs.errors import UserError
from formula_vcs.figures.tolerance import mistaken_words
from formula_vcs.model.batch import Batch, BatchCharge, BatchStep
from formula_vcs.model.recipe import STEP_VALUES
from formula_vcs.model.spec_line import conforms
from formula_vcs.model.values import dataclass
from formula_vcs.toml.batch_edit import facts_in
from formula_vcs.units.unit_reading import QuantityError, read_quantity
from formula_vcs.words.late_pattern import late_pattern

Answer = str | int | datetime.datetime
_CLOCK: Final = late_pattern(r"([01]?\d|2[0-3])[:.]([0-5]\d)")


@dataclass(frozen=True)
class Question:
    """What is asked: the words, where the answer goes, how it is read, and what "=" stands for."""

    words: str
    path: tuple[str, ...]
    kind: str
    sheet: str = ""
    target: Fraction | None = None


def read_answer(answer: str, question: Question, opened: OpenRecord) -> Answer:
    """Turn an answer into what the file holds; units and dimensions are the file's to check.

    :raises UserError: it cannot be read, or is a mass that only a mistaken unit explains.
    """
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


def questions(opened: OpenRecord) -> Iterator[Question]:
    """What is open in a batch as it stands in memory, in the order of its sheet."""
    batch = Batch(opened.batch.id, facts_in(opened.text), opened.batch.file)
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


def _of_charge(charge: BatchCharge, opened: OpenRecord) -> Iterator[Question]:
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


def _of_step(step: BatchStep, batch: Batch, opened: OpenRecord) -> Iterator[Question]:
    name = f"step {step.name}"
    for moment in ("started", "ended"):
        if step.moment(moment) is None:
            yield Question(f"{name}: {moment}", (*step.path, moment), "moment")
    targets = step.target
    for value in STEP_VALUES:
        if value in targets and value not in step.done:
            yield Question(f"{name}: {value}", (*step.path, value), "text", str(targets[value]))
    steps = () if opened.formula is None else opened.formula.recipe.steps
    recipe = next((stated for stated in steps if stated.id == step.id), None)
    if recipe is not None and recipe.measure and "measured" not in step.done:
        words = f"{name}: {recipe.measure} measured (accept {targets.get('accept', '')})"
        yield Question(words, (*step.path, "measured"), "text")
    if step.done_by is None:
        yield Question(f"{name}: done by", (*step.path, "done_by"), "text", batch.made_by or "")
