"""The making instructions: what goes in, in which order, how each step is done and what is measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.batches.plan import portions
from formula_vcs.batches.weigh_sheet import codes
from formula_vcs.model.recipe import Step
from formula_vcs.reports.document.blocks import Block, Column, Heading, Items, ListEntry, Paragraph, Row, TableBlock
from formula_vcs.reports.papers.paper import NOT_ON_FILE, Paper
from formula_vcs.words.numbers import printed, shown

TITLE: Final = "Making instructions"
_POINTS: Final = (
    ("shear", "shear"), ("speed", "speed"), ("time", "time"), ("temp", "temperature"), ("vacuum", "vacuum"),
    ("rest", "rest"),
)  # fmt: skip
_NOT_A_SHEET: Final = (
    "In % w/w, for no size: a batch is weighed by its weigh sheet, which has masses, lots and room to write. The "
    "safety data sheet of each material comes before the words here."
)


def blocks(paper: Paper) -> Iterator[Block]:
    """Give the phases, then the steps with their charges by title."""
    formula, recipe = paper.formula, paper.recipe
    yield Paragraph(_NOT_A_SHEET)
    yield Heading("What goes in", 2)
    rows, last = [], ""
    for line in paper.sums.composition.lines:
        phase = line.charge.phase
        title = recipe.phases.get(phase) or ""
        above = f"Phase {phase}" + (f": {title}" if title else "") if phase != last else ""
        last = phase
        ingredient = line.charge.ingredient
        material = formula.ingredients.get(ingredient)
        sold = "" if material is None else " ".join(filter(None, (material.get("supplier"), material.get("code"))))
        rows.append(
            Row(
                (formula.title(ingredient), ingredient, sold or NOT_ON_FILE, f"{shown(line.pct, 2, 6)} %",
                 " ".join(codes(formula, ingredient))),
                above=above,
            )
        )  # fmt: skip
    columns = (
        Column("charge"), Column("id"), Column("supplier, code"), Column("% w/w", "point"), Column("hazard statements"),
    )  # fmt: skip
    yield TableBlock(columns, tuple(rows), "Charges by phase", heads=True)
    yield Heading("Steps", 2)
    if not recipe.steps:
        yield Paragraph(f"Steps: {NOT_ON_FILE}.")
        return
    taken = _taken(paper)
    yield Items(tuple(_step(paper, step, taken.get(step.id, [])) for step in recipe.steps), numbered=True)


def _taken(paper: Paper) -> dict[str, list[str]]:
    """Say what each step takes: every charge by its title, what waits for adjusting left out."""
    pct = {line.charge.key: line.pct for line in paper.sums.composition.lines}
    kept = {(step.id, key) for step in paper.recipe.steps for key in step.adjust}
    found: dict[str, list[str]] = {}
    for key, added in portions(paper.sums).items():
        title = paper.formula.title(key.partition("/")[2])
        for step, share in added:
            if (step, key) not in kept and key in pct:
                found.setdefault(step, []).append(f"{shown(pct[key] * share, 2, 6)} % {title} ({key})")
    return found


def _step(paper: Paper, step: Step, taken: list[str]) -> ListEntry:
    title = step.facts.get("title")
    name = f"{title} ({step.id})" if isinstance(title, str) else step.id
    into = f" into {step.into}" if step.into else ""
    below: list[str] = []
    if taken:
        below.append(f"add{into}: {'; '.join(taken)}")
    if step.joins:
        below.append(f"take over the content of {', '.join(step.joins)}{into}")
    if not taken and not step.joins and step.into:
        below.append(f"in {step.into}")
    points = [f"{words} {step.facts[key]}" for key, words in _POINTS if step.facts.get(key) is not None]
    if step.mixer:
        machine = paper.formula.equipment.get(step.mixer)
        points.insert(1 if points else 0, f"on {step.mixer if machine is None else machine.title}")
    if points:
        below.append(printed("; ".join(points)))
    if step.measure:
        below.append(f"measure {step.measure}, accept {step.span('accept') or NOT_ON_FILE}")
    for key in step.adjust:
        charge = next((one for one in paper.recipe.charges if one.key == key), None)
        most = None if charge is None else charge.more.get("at_most")
        title = paper.formula.title(key.partition("/")[2])
        below.append(
            f"adjust with {title} ({key}), in parts, {'no most is stated' if most is None else f'{most} % at most'}"
        )
    note = step.facts.get("note")
    if isinstance(note, str):
        below.append(f"note: {printed(note)}")
    if step.facts.get("second_check") is True:
        below.append("a second person checks the step")
    return ListEntry(name, (Items(tuple(map(ListEntry, below)), "- ", indent=5),), "strong")
