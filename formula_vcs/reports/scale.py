"""What a move to another size does to a process: what is kept, what follows, what cannot be kept at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Final, NamedTuple

from formula_vcs.figures.scale_up import BLEND, POWER, TIP_SPEED, Scaled, ScaledStep
from formula_vcs.figures.scale_up import GAP as GAP_SHEAR
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.reports import process_words
from formula_vcs.reports.document.blocks import GAP, Block, Document, Heading, Items, ListEntry, Paragraph, Report
from formula_vcs.reports.document.data import Exact, SchemaRule
from formula_vcs.words.imitation import titled
from formula_vcs.words.numbers import exact_text, shown

_CAUTION: Final = (
    "Estimates for the same shape and the same fluid; as of turbulent flow only in what is thin enough. They replace "
    "no trial batch at the new size."
)


class ScaleShown(NamedTuple):
    """A recipe and its move to another size."""

    recipe: Recipe
    found: Scaled


def document(subject: ScaleShown) -> Document:
    """Say each step that moves with its speed and what it cannot keep, then what holds for the whole batch."""
    recipe, found = subject
    sizes = f"{shown(found.before.batch, 0)} kg to {shown(found.size, 0)} kg"
    title = f"{titled(recipe.title)}: {sizes} on {found.equipment.title} (dry run)"
    return Document(title, (Heading(title), GAP, *_steps(found), *_whole(found), GAP, Paragraph(_CAUTION)))


def _steps(found: Scaled) -> Iterator[Block]:
    for step in found.moved:
        yield from _moved(step)
    if not found.moved:
        yield Paragraph(f"no step is done by what '{found.equipment.id}' takes the place of", indent=2)
        yield GAP
    for step in found.kept:
        yield Paragraph(f"{step.row.stage.step.id}: stays on '{step.device.id}', at its speed", indent=2, hang=4)
        yield from _not_kept(step)
    if found.kept:
        yield GAP


def _moved(step: ScaledStep) -> Iterator[Block]:
    old, new = step.speeds
    said = "" if step.stated else " (not stated by the step: common practice)"
    yield Paragraph(f"{step.row.stage.step.id}: keeps {step.rule}{said}", "strong", indent=2, hang=4)
    device = step.row.numbers.device
    names = f"'{device.id if device is not None else '-'}' to '{step.device.id}'"
    if step.missing:
        yield Paragraph(f"{_rpm(old)} on {names}: not known, {step.missing}", indent=6)
    else:
        yield Paragraph(f"{_rpm(old)} to {_rpm(new)}, {names}", indent=6)
    if step.limited is not None:
        words = f"it turns at {step.device.speed}: {_rpm(step.limited)} is the nearest, so the {step.rule} is not kept"
        yield Paragraph(words, indent=6)
    lost = list(_not_kept(step))
    yield from lost
    if not lost and step.after is not None:
        yield Paragraph("everything that can be said is kept", indent=6)
    yield GAP


def _not_kept(step: ScaledStep) -> Iterator[Block]:
    entries = tuple(ListEntry(f"not kept: {words}") for words in _lost(step))
    if entries:
        yield Items(entries, indent=6, hang=4)


def _whole(found: Scaled) -> Iterator[Block]:
    yield Heading("The whole batch", 2)
    if found.cooling is not None:
        yield Paragraph(
            f"cooling and heating by the jacket take {found.cooling:.2f} times as long: the wall grows less than the "
            "content (McCabe, Smith, Harriott, Unit Operations, ch. 15; from memory)",
            indent=2,
            hang=4,
        )
    yield from (Paragraph(words, indent=2, hang=4) for words in _fill(found))
    times = shown(found.size / found.before.batch, 0, 4)
    words = f"every charge is weighed {times} times as much: {process_words.mass(found.size)} in all"
    yield Paragraph(words, indent=2, hang=4)


def _rpm(speed: float | None) -> str:
    """Write turns a second as rpm."""
    return "not known" if speed is None else f"{speed * 60:,.0f} rpm" if speed * 60 >= 10 else f"{speed * 60:.1f} rpm"


def _quantities(step: ScaledStep) -> dict[str, tuple[float, float]]:
    """Give what is known on both sides: tip speed, gap shear, power per volume, blend time, energy, turnovers."""
    if step.after is None:
        return {}
    (n0, w0), (n1, w1) = step.before, step.after
    pairs = {
        TIP_SPEED: (n0.tip and n0.tip[1], n1.tip and n1.tip[1]),
        GAP_SHEAR: (n0.gap and n0.gap[1], n1.gap and n1.gap[1]),
        POWER: (w0.by_volume, w1.by_volume),
        BLEND: (w0.blend_time, w1.blend_time),
        "energy": (w0.energy, w1.energy),
        "turnovers": (w0.turnovers, w1.turnovers),
    }
    return {name: (old, new) for name, (old, new) in pairs.items() if old and new}


_UNITS: Final = {TIP_SPEED: " m/s", GAP_SHEAR: " 1/s", POWER: " W/m3", "turnovers": ""}


def _value(name: str, number: float) -> str:
    """Write one of the quantities with its unit."""
    if name == BLEND:
        return process_words.duration(number)
    if name == "energy":
        return process_words.energy(number)
    return f"{number:,.0f}{_UNITS[name]}" if number >= 1000 else f"{number:.3g}{_UNITS[name]}"


def _lost(step: ScaledStep) -> Iterator[str]:
    """Say what the rule of a step does not keep."""
    for name, (old, new) in _quantities(step).items():
        if abs(new / old - 1) > 0.005:
            verb = ("grow" if new > old else "fall") + ("" if name == "turnovers" else "s")
            yield f"{name} {verb} by {_times(new / old)}: {_value(name, old)} to {_value(name, new)}"
    if step.kept_power is not None and "energy" not in _quantities(step):
        verb = "grows" if step.kept_power > 1 else "falls"
        yield f"energy {verb} by {_times(step.kept_power)}: the same power, which is not known, for each kg"


def _times(ratio: float) -> str:
    return f"{abs(ratio - 1) * 100:.0f} %" if ratio < 2 else f"a factor of {ratio:.2g}"


def _fill(found: Scaled) -> Iterator[str]:
    """Say vessels that the new size fills under or over what they work with."""
    for vessel in dict.fromkeys(filling.vessel for filling in found.fillings):
        mine = [filling for filling in found.fillings if filling.vessel == vessel]
        machine = mine[0].machine
        stated = machine.working_range
        brim = None if machine.volume is None else float(machine.volume)
        low, high = (None, None) if stated is None else (None if end is None else float(end) for end in stated)
        most, least = max(mine, key=lambda f: f.volume), min(mine, key=lambda f: f.volume)
        name = f"'{vessel}' ({machine.title})"
        if brim is not None and most.volume > brim:
            yield f"{name}: step '{most.step}' has {_litres(most.volume)}, more than it holds, {_litres(brim)}"
        elif high is not None and most.volume > high:
            much = _litres(most.volume)
            yield f"{name}: step '{most.step}' has {much}, over its working range to {_litres(high)}"
        if low is not None and least.volume < low:
            few = _litres(least.volume)
            yield f"{name}: step '{least.step}' has {few}, under its working range from {_litres(low)}"


def _litres(volume: float) -> str:
    return f"{volume * 1000:,.0f} L"


@dataclass(frozen=True, slots=True)
class ScaleSpeed:
    """Turns a second."""

    before: float | None
    after: float | None
    limited_to: float | None


@dataclass(frozen=True, slots=True)
class ScaleNumber:
    """A number of mixing before and after, in SI units."""

    before: float
    after: float


@dataclass(frozen=True, slots=True)
class ScaleStep:
    """A step that moves to other equipment."""

    step: str
    rule: Annotated[str, SchemaRule(one_of=(TIP_SPEED, POWER, BLEND, GAP_SHEAR))]
    stated: bool
    from_: str | None
    speed: ScaleSpeed
    numbers: Mapping[str, ScaleNumber]
    not_kept: tuple[str, ...]
    missing: str


@dataclass(frozen=True, slots=True)
class ScaleRecord:
    """What a move of a recipe to another size and equipment does to each step.

    Estimates in SI units; masses are exact.
    """

    recipe: str
    equipment: str
    from_kg: Exact
    to_kg: Exact
    steps: tuple[ScaleStep, ...]
    stay: tuple[str, ...]
    stay_not_kept: Annotated[
        Mapping[str, tuple[str, ...]],
        SchemaRule("What the larger or smaller content alone moves in each step that stays on its equipment"),
    ]
    cooling_time_ratio: float | None
    filling: tuple[str, ...]
    caution: str


def record(subject: ScaleShown) -> ScaleRecord:
    """Give the move as data."""
    recipe, found = subject
    return ScaleRecord(
        recipe.id, found.equipment.id, exact_text(found.before.batch), exact_text(found.size),
        tuple(map(_step_record, found.moved)), tuple(step.row.stage.step.id for step in found.kept),
        {step.row.stage.step.id: tuple(_lost(step)) for step in found.kept}, found.cooling, tuple(_fill(found)),
        _CAUTION,
    )  # fmt: skip


def _step_record(step: ScaledStep) -> ScaleStep:
    device = step.row.numbers.device
    numbers = {name.replace(" ", "_"): ScaleNumber(old, new) for name, (old, new) in _quantities(step).items()}
    return ScaleStep(
        step.row.stage.step.id, step.rule, step.stated, None if device is None else device.id,
        ScaleSpeed(*step.speeds, step.limited), numbers, tuple(_lost(step)), step.missing,
    )  # fmt: skip


REPORT: Final = Report("batch --dry-run --on", "batch", document, record)
