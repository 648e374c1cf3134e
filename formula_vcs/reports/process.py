"""A process: lanes, one a vessel; the numbers of the steps; what each charge sees."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from formula_vcs.figures.process_run import Life, Process, ProcessRow
from formula_vcs.process.step_numbers import said
from formula_vcs.reports import process_words
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Heading,
    Items,
    ListEntry,
    OnTerminal,
    Paragraph,
    Row,
    TableBlock,
)
from formula_vcs.reports.terminal import WIDTH, Ink, cut, folded, left
from formula_vcs.words.escape import terminal
from formula_vcs.words.numbers import ZERO_CELSIUS

MOST_LANES: Final = 5
_BETWEEN: Final = " \u2502 "


def process_blocks(title: str, found: Process, level: int = 1) -> tuple[Block, ...]:
    """Give the lanes, then the numbers, then the exposures."""
    head = (Heading(f"{title}: process {process_words.heading(found)}", level), GAP)
    if not found.rows:
        return (*head, Paragraph("no steps are written"))
    draw = _listed if len(found.vessels) > MOST_LANES else _lanes
    lanes = OnTerminal(lambda ink: draw(ink, found), (_table(found),))
    return (*head, lanes, *_numbers(found), *_exposures(found), Paragraph(process_words.NOTES))


def _table(found: Process) -> Block:
    """Give what the lanes show: a vessel a column, or one step after the other where these are too many."""
    if len(found.vessels) > MOST_LANES:
        return Items(tuple(_step(row) for row in found.rows))
    rows = tuple(Row(tuple("; ".join(_cell(row, vessel)) for vessel in found.vessels)) for row in found.rows)
    columns = tuple(Column(_head(found, vessel)) for vessel in found.vessels)
    return TableBlock(columns, rows, "How it is made: a vessel a column, from the top", heads=True)


def _step(row: ProcessRow) -> ListEntry:
    first, *rest = _block(row)
    return ListEntry(f"{first}  [{row.stage.vessel}]", tuple(map(Paragraph, rest)), "strong")


def _cell(row: ProcessRow, vessel: str) -> list[str]:
    """Say what a step does to a vessel, a line for each fact."""
    if vessel == row.stage.vessel:
        return _block(row)
    if any(source == vessel for source, _ in row.joined):
        return [f"\u2192 {row.stage.vessel}"]
    return [process_words.mass(row.holds[vessel])] if vessel in row.holds else []


def _lanes(ink: Ink, found: Process) -> None:
    count = len(found.vessels)
    width = (WIDTH - len(_BETWEEN) * (count - 1)) // count
    heads = [terminal(_head(found, vessel)) for vessel in found.vessels]
    for cells in _rows([folded(head, width, width) for head in heads], count):
        ink.line(_line(ink, cells, width, strong=range(count)))
    ink.line("\u2500\u253c\u2500".join("\u2500" * width for _ in range(count)))
    for row in found.rows:
        blocks = [[line for words in _cell(row, vessel) for line in _hung(words, width)] for vessel in found.vessels]
        here = found.vessels.index(row.stage.vessel)
        for number, cells in enumerate(_rows(blocks, count)):
            ink.line(_line(ink, cells, width, strong=[here] if not number else []))
    ink.line()


def _head(found: Process, vessel: str) -> str:
    machine = found.machines.get(vessel)
    return vessel if machine is None else f"{vessel} ({machine.title})"


def _hung(words: str, width: int) -> list[str]:
    """Fold to the lane; a word that is longer than it is cut."""
    lines = folded(terminal(words), width, width - 2)
    return [cut(line if not number else f"  {line}", width) for number, line in enumerate(lines)]


def _rows(blocks: Sequence[list[str]], count: int) -> list[list[str]]:
    height = max(map(len, blocks), default=0)
    return [[blocks[i][n] if n < len(blocks[i]) else "" for i in range(count)] for n in range(height)]


def _line(ink: Ink, cells: Sequence[str], width: int, strong: Sequence[int]) -> str:
    painted = [ink.paint(cell, "strong") if cell and i in strong else cell for i, cell in enumerate(cells)]
    return _BETWEEN.join(left(cell, width) for cell in painted).rstrip()


def _block(row: ProcessRow) -> list[str]:
    """Say one step as its vessel sees it, a line for each fact."""
    step = row.stage.step
    lines = [f"{row.number} {step.id}"]
    lines += [f"\u2190 {source} {process_words.mass(kg)}" for source, kg in row.joined]
    lines += [f"+ {key.split('/', 1)[1]} {process_words.mass(kg)}" for key, kg in row.added]
    lines += [words for words in (process_words.deeds(step), process_words.warmth(row.warmth)) if words]
    lines.append(f"= {process_words.mass(row.holds[row.stage.vessel])}" if row.stage.vessel in row.holds else "= empty")
    return lines


def _listed(ink: Ink, found: Process) -> None:
    """Write one step after the other, where there are more vessels than lanes fit."""
    for row in found.rows:
        first, *rest = _block(row)
        ink.wrapped(f"{first}  [{row.stage.vessel}]", style="strong")
        for words in rest:
            ink.wrapped(words, "    ")
    ink.line()


def _numbers(found: Process) -> Iterator[Block]:
    yield Heading("Numbers", 2)
    reasons: dict[str, list[int]] = {}
    rows: list[Row] = []
    for row in found.rows:
        for reason in (*row.work.missing, *([row.work.basis] if row.work.basis else [])):
            if row.numbers.speed is not None and reason not in row.numbers.missing:
                reasons.setdefault(reason, []).append(row.number)
        words = ", ".join(part for part in _parts(row) if part)
        if words:
            rows.append(Row((str(row.number), row.stage.step.id, words)))
    columns = (Column("", "right", least=2), Column("step", most=20, least=20, lead=" "), Column("numbers"))
    yield TableBlock(columns, tuple(rows), "Numbers of the steps", wrap=True)
    for reason, steps in reasons.items():
        yield Paragraph(f"note: step {', '.join(map(str, steps))}: {reason}", indent=2, hang=6)
    yield GAP


def _parts(row: ProcessRow) -> Iterator[str]:
    """Give what one step's speed and tool come to."""
    done = row.work
    yield said(row.numbers)
    if row.numbers.mean is not None:
        yield f"mean shear {row.numbers.mean[1]:.3g} 1/s"
    if row.numbers.speed is not None or row.numbers.tip is not None:
        yield f"class by numbers: {row.numbers.shear_class}"
    if done.reynolds is not None:
        yield f"Re {done.reynolds:,.0f}, {done.regime}"
    if done.energy is not None:
        yield process_words.energy(done.energy)
    elif row.numbers.speed is not None and done.time is not None:
        yield "energy not known"
    if done.turnovers is not None:
        yield f"{done.turnovers:.3g} turnovers"
    if done.blend_time is not None:
        yield f"blend time {process_words.duration(done.blend_time)}"
    if row.numbers.missing:
        yield f"not known: {'; '.join(row.numbers.missing)}"


def _exposures(found: Process) -> Iterator[Block]:
    yield Heading("What each charge lives through", 2)
    yield Items(
        tuple(
            ListEntry(
                ", ".join(key.split("/", 1)[1] for key in life.charges), (Paragraph(_life(life), indent=6),), "strong"
            )
            for life in found.lives
        ),
        hang=0,
    )
    yield GAP


def _life(life: Life) -> str:
    if not life.rows:
        return "no step adds it"
    parts = [f"steps {_numbers_of(life)}"]
    parts += [f"{process_words.duration(time)} at {name} shear" for name, time in life.times.items()]
    if not life.times:
        parts.append("no stated time of shear")
    if life.tip is not None:
        parts.append(f"tip speed to {life.tip:.3g} m/s")
    if life.energy is not None:
        parts.append(process_words.energy(life.energy))
    if life.hottest is not None:
        parts.append(f"hottest {float(life.hottest - ZERO_CELSIUS):.3g} degC")
    return ", ".join(parts)


def _numbers_of(life: Life) -> str:
    """Write step numbers with their runs: 1, 4 to 7, 9."""
    runs: list[list[int]] = []
    for row in life.rows:
        if runs and row.number == runs[-1][-1] + 1:
            runs[-1].append(row.number)
        else:
            runs.append([row.number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)
