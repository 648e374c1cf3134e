"""The process as lanes, one a vessel, step under step: what a step does, what changed in it, and whom it hurts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from formula_vcs.diff.change import Change
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.process_run import Process, ProcessRow, process
from formula_vcs.reports import process_words
from formula_vcs.reports.page import parts, shapes
from formula_vcs.reports.page.paths import LETTERS, Path, paths
from formula_vcs.reports.page.shell import escape
from formula_vcs.review.charges_at_steps import ChargeAtStep, charges_at_steps
from formula_vcs.review.compare import Review, ReviewSides

MOST_LANES: Final = 6
MOST_STEPS: Final = 60
MOST_NAMES: Final = 8
# steps times charges: above it the walk in kilograms takes longer than anybody looks
MOST_WORK: Final = 60_000
_LANE, _PATH, _EDGE = 21, 16, 12  # px: from lane to lane, from path to path, to the first
_NODE: Final = 13  # px from the top of a row to the point of its step


class _Drawing(NamedTuple):
    """What all rows share: the process, the charges whose paths are drawn, what changed in each step."""

    found: Process
    ways: Sequence[Path]
    changed: dict[str, list[Change]]
    charges: dict[str, list[ChargeAtStep]]

    @property
    def width(self) -> int:
        """Give the width of the drawing at the left of every row, in px."""
        lanes = _EDGE + _LANE * len(self.found.vessels)
        return lanes + (_EDGE + _PATH * len(self.ways) if self.ways else 0)

    def lane(self, vessel: str) -> int:
        """Give the place of a vessel's lane, in px."""
        return _EDGE + _LANE * self.found.vessels.index(vessel)

    def way(self, number: int) -> int:
        """Give the place of a charge's path, in px."""
        return 2 * _EDGE + _LANE * len(self.found.vessels) + _PATH * number - _EDGE // 2


def lanes(review: Review, sides: ReviewSides) -> str:
    """Draw the new process; folded away where nothing in it changed and it hurts nothing."""
    steps, charges = sides.present.recipe.steps, sides.present.recipe.charges
    if not steps:
        return ""
    if len(steps) * len(charges) > MOST_WORK:
        return parts.paragraph(f"The process has {len(steps)} steps: too many to draw.", "muted")
    found = process(breakdown_of(sides.present))
    if not found.rows:
        return ""
    ways = paths(review, sides)
    drawn = [way for way in ways if way.steps][: len(LETTERS)]
    drawing = _Drawing(found, drawn, _changed(review), _charges(review, sides, found))
    if len(found.vessels) > MOST_LANES:
        return parts.paragraph(f"The process uses {len(found.vessels)} vessels: too many to draw as lanes.", "muted")
    content = _legend(drawing, [way for way in ways if way not in drawn]) + _rows(drawing) + _gone(drawing)
    caption = (
        f"How it is made {process_words.heading(found)}: one lane a vessel, from the top. A diamond is a step that "
        "changed or adds something else, a cross a step that breaks what a charge asks for."
    )
    whole = shapes.figure(caption, content)
    moved = any(one.sign for charges in drawing.charges.values() for one in charges)  # an amount alone moves no step
    if drawing.changed or moved or any(way.broken or way.moved for way in ways):
        return whole
    return parts.folded("The process, which did not change", whole)


def _changed(review: Review) -> dict[str, list[Change]]:
    found: dict[str, list[Change]] = {}
    for change in review.changes:
        if change.kind.startswith("step-"):
            found.setdefault(change.where.split("/")[1], []).append(change)
    return found


def _charges(review: Review, sides: ReviewSides, found: Process) -> dict[str, list[ChargeAtStep]]:
    past = sides.past.recipe
    if not past.steps or len(past.steps) * len(past.charges) > MOST_WORK:
        return {}
    return charges_at_steps(review.changes, process(breakdown_of(sides.past)), found)


def _legend(drawing: _Drawing, others: Sequence[Path]) -> str:
    entries = []
    for number, vessel in enumerate(drawing.found.vessels, 1):
        machine = drawing.found.machines.get(vessel)
        title = f", {machine.title}" if machine is not None else ""
        entries.append(f"<strong>{number}</strong> vessel {escape(f'{vessel}{title}')}")
    entries += [f"<strong>{LETTERS[i]}</strong> {_way(way)}" for i, way in enumerate(drawing.ways)]
    if others:
        names = ", ".join(way.charge.split("/", 1)[1] for way in others[:MOST_NAMES])
        more = f" and {len(others) - MOST_NAMES} more" if len(others) > MOST_NAMES else ""
        entries.append(f'<span class="muted">not drawn, but asking for something too: {escape(names + more)}</span>')
    return parts.items(entries, "legend")


def _way(way: Path) -> str:
    phase, name = way.charge.split("/", 1)
    words = f"{name} ({phase}): {', '.join(way.asks)}"
    state = parts.tag("not kept", "bad") if way.broken else ""
    return f"{escape(words)} {state}".rstrip()


def _rows(drawing: _Drawing) -> str:
    head = [shapes.mark(drawing.lane(v), 14, str(n)) for n, v in enumerate(drawing.found.vessels, 1)]
    head += [shapes.mark(drawing.way(n), 14, LETTERS[n]) for n in range(len(drawing.ways))]
    top = shapes.picture("Lanes and paths", "The numbers and letters are those of the list above.", 20, head,
                         width=str(drawing.width))  # fmt: skip
    lines = [f'<li class="step">{top}<div class="small muted">start</div></li>']
    for position, row in enumerate(drawing.found.rows[:MOST_STEPS]):
        before = drawing.found.rows[position - 1] if position else None
        lines.append(f'<li class="step">{_drawn(drawing, row, before)}<div>{_words(drawing, row)}</div></li>')
    rest = len(drawing.found.rows) - MOST_STEPS
    if rest > 0:
        lines.append(f'<li class="muted">and {rest} more steps, left out here</li>')
    return f'<ol class="lanes">{"".join(lines)}</ol>'


def _drawn(drawing: _Drawing, row: ProcessRow, before: ProcessRow | None) -> str:
    held = before.holds if before is not None else {}
    here = drawing.lane(row.stage.vessel)
    shape: list[str] = []
    for vessel in drawing.found.vessels:
        x = drawing.lane(vessel)
        if vessel in held and not any(source == vessel for source, _ in row.joined):
            shape.append(shapes.rail(x, "0", str(_NODE), "l1"))
        if vessel in row.holds:
            shape.append(shapes.rail(x, str(_NODE), "100%", "l1"))
    for source, _ in row.joined:
        if source in drawing.found.vessels:
            x = drawing.lane(source)
            shape.append(f'<path d="M{x} 0 Q{x} {_NODE} {here} {_NODE}" class="l1"/>')
    if row.stage.step.id in drawing.changed or row.stage.step.id in drawing.charges:
        shape.append(f'<path d="M{here} {_NODE - 8} l8 8 l-8 8 l-8 -8 z" class="changed"/>')
    else:
        shape.append(f'<circle cx="{here}" cy="{_NODE}" r="5" class="s1"/>')
    told = []
    for number, way in enumerate(drawing.ways):
        words, marks = _on_way(row, way, drawing.way(number))
        shape += marks
        told += [f"{LETTERS[number]} {words}"] if words else []
    title = f"Step {row.number} in vessel {drawing.found.vessels.index(row.stage.vessel) + 1}"
    words = ", ".join(told) or "no sensitive charge is in it"
    return shapes.picture(title, words, 28, shape, width=str(drawing.width), css="tall")


def _on_way(row: ProcessRow, way: Path, x: int) -> tuple[str, list[str]]:
    """Give what a step is to a charge, in words and as marks on its path."""
    step = row.stage.step.id
    there = any(way.charge in content for content in row.stage.contents.values())
    first = way.steps[0] == step
    shape = [] if first or not there else [shapes.rail(x, "0", str(_NODE), "way")]
    if there:
        shape.append(shapes.rail(x, str(_NODE), "100%", "way"))
    if step in way.hurt:
        shape.append(f'<path d="M{x - 6} {_NODE - 6} l12 12 m0 -12 l-12 12" class="cross"/>')
        return "is hurt by it", shape
    if step in way.steps:
        shape.append(f'<circle cx="{x}" cy="{_NODE}" r="{4 if first else 3}" class="{"ring" if first else "s5"}"/>')
        return "comes in" if first else "is in it", shape
    return "", shape if there else []


def _words(drawing: _Drawing, row: ProcessRow) -> str:
    step = row.stage.step
    own = drawing.changed.get(step.id, [])
    kinds = {change.kind for change in own}
    state = "new" if "step-added" in kinds else "moved" if kinds == {"step-moved"} else "changed" if own else ""
    hurt = ", ".join(way.charge.split("/", 1)[1] for way in drawing.ways if step.id in way.hurt)
    head = f"<strong>{row.number} {escape(step.id)}</strong>"
    if len(drawing.found.vessels) > 1:
        head += f' <span class="muted small">in {escape(row.stage.vessel)}</span>'
    head += f" {parts.tag(state, 'warn')}" if state else ""
    head += f" {parts.tag(f'hurts {hurt}', 'bad')}" if hurt else ""
    lines = [head]
    done = ", ".join(words for words in (process_words.deeds(step), process_words.warmth(row.warmth)) if words)
    lines += [escape(done)] if done else []
    if row.joined:
        lines.append(escape(f"takes over {', '.join(source for source, _ in row.joined)}"))
    if row.added:
        lines.append(f'<span class="muted">+ {escape(_names([key for key, _ in row.added]))}</span>')
    lines += [f'<span class="warn">{escape(_without_step(change))}</span>' for change in own if state != "new"]
    met = [f'<span class="warn">{escape(_met(one))}</span>' for one in drawing.charges.get(step.id, ())]
    lines += parts.cut(met, MOST_NAMES, "charges")
    return "<br>".join(lines)


def _met(one: ChargeAtStep) -> str:
    if one.words:
        return one.words
    if one.other_grade:
        return f"+ {one.charge}, was {one.other_grade}"
    if one.sign == "+":
        return f"+ {one.charge}, " + (f"was in step '{one.other_step}'" if one.other_step else "new")
    gone = f"now in step '{one.other_step}'" if one.other_step else "removed"
    return f"\u2212 {one.charge}, {gone}"


def _names(keys: Sequence[str]) -> str:
    names = [key.split("/", 1)[1] for key in keys]
    rest = len(names) - MOST_NAMES
    return ", ".join(names[:MOST_NAMES]) + (f" and {rest} more" if rest > 0 else "")


def _without_step(change: Change) -> str:
    """Say a change of a step without the step's name, which stands above it."""
    name = f"step '{change.where.split('/')[1]}'"
    return change.text.removeprefix(f"{name}, ").removeprefix(f"{name}: ")


def _gone(drawing: _Drawing) -> str:
    gone = [change.text for changes in drawing.changed.values() for change in changes if change.kind == "step-removed"]
    return parts.items(parts.cut([escape(words) for words in gone], MOST_STEPS, "steps removed"))
