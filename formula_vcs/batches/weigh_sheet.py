"""A weigh sheet: what a batch file, the recipe that it pins and the equipment say to whoever makes the batch."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Any, Final

from formula_vcs.batches.pack_fill import Fill, fill, overfill_needed
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.density import filling_density
from formula_vcs.figures.tolerance import tolerance_of
from formula_vcs.figures.weighing import mass_text
from formula_vcs.model.batch import Batch, BatchCharge, BatchStep, Portion
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import readable
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_VALUES, Charge, Step
from formula_vcs.toml.package_data import load
from formula_vcs.words.numbers import shown

CAUTION: Final = (
    "This sheet is arithmetic. Whether and how it may be made is decided by the rules of the place and by a site that "
    "is licensed for it; the safety data sheet of each lot comes before the words here."
)
_HOT: Final = Fraction("333.15")  # 60 degC
_CODE: Final = re.compile(r"EUH\d{3}|H\d{3}")
_ROUGH: Final = ("high", "medium")


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One weighing: the charge, or a part of it for a step.  Texts are as they are printed; empty where unknown."""

    phase: str
    key: str
    title: str
    target: str
    allowed: str
    why_allowed: str
    balance: str
    lot: str
    weighed: str
    part: str
    kept: str
    premix: bool
    second: bool
    hazards: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One step: what goes in, its set points by name, what is measured, and what was done by now."""

    number: int
    id: str
    title: str
    vessel: str
    adds: tuple[str, ...]
    joins: tuple[str, ...]
    values: Mapping[str, str]
    remark: str
    measure: str
    accept: str
    adjust: tuple[str, ...]
    note: str
    second: bool
    done: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Hazard:
    """One hazard statement, and whom it is about."""

    code: str
    says: str
    of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeighSheet:
    """A weigh sheet whole, ready to be written."""

    batch: Batch
    formula: Formula
    lines: tuple[SheetLine, ...]
    steps: tuple[SheetStep, ...]
    spec: Mapping[str, str]
    results: Mapping[str, str]
    hazards: tuple[Hazard, ...]
    wear: tuple[str, ...]
    cautions: tuple[str, ...]
    equipment: tuple[str, ...]
    fill: Fill | None
    fill_basis: str
    fillers: tuple[str, ...]
    total: str
    notes: tuple[str, ...]


def sheet_of(
    batch: Batch,
    formula: Formula,
    equipment: Callable[[str], Equipment | None],
) -> WeighSheet:
    """Gather a sheet; ``equipment`` finds a piece of equipment by its id."""
    charges = {charge.key: charge for charge in formula.recipe.charges}
    lines = tuple(
        line for made in batch.charges for line in _lines(made, charges.get(made.key), batch, formula, equipment)
    )
    steps = {step.id: step for step in formula.recipe.steps}
    made_steps = batch.steps or tuple(BatchStep(step.id, step.index, {}) for step in formula.recipe.steps)
    found = tuple(_step(one, steps.get(one.id), formula) for one in made_steps)
    hazards = _hazards(batch, formula)
    total = sum((c.target.base for c in batch.charges if c.target is not None), Fraction(0))
    filled, basis = _fill(batch, formula)
    machines = [one for name in batch.equipment if (one := equipment(name)) is not None]
    return WeighSheet(
        batch=batch,
        formula=formula,
        lines=lines,
        steps=found,
        spec={name: str(line) for name, line in formula.recipe.spec_lines.items()},
        results={
            **{name: str(value) for name, value in batch.results.items()},
            **{name: "conforms" if yes else "does not conform" for name, yes in batch.judged.items()},
        },
        hazards=hazards,
        wear=tuple(_wear(hazards)),
        cautions=tuple(_cautions(batch, formula, equipment)),
        equipment=tuple(_named(name, equipment) for name in batch.equipment),
        fill=filled,
        fill_basis=basis,
        fillers=tuple(_fillers(filled, machines)),
        total=mass_text(total),
        notes=tuple(line for line in (batch.get("note") or "").splitlines() if line.strip()),
    )


def _named(name: str, equipment: Callable[[str], Equipment | None]) -> str:
    found = equipment(name)
    return name if found is None or found.title == name else f"{found.title} ({name})"


def _lines(
    made: BatchCharge,
    charge: Charge | None,
    batch: Batch,
    formula: Formula,
    equipment: Callable[[str], Equipment | None],
) -> Iterator[SheetLine]:
    ingredient = formula.ingredients.get(made.ingredient)
    allowed = tolerance_of(charge, ingredient, formula.workspace)
    kept = "" if charge is None else _kept(charge, batch, formula)
    portions = made.portions or (Portion(None, None, made.target, None, made.path),)
    for number, portion in enumerate(portions, 1):
        target = portion.target or (made.target if len(portions) == 1 else None)
        name = portion.balance or made.balance or ""
        machine = equipment(name) if name else None
        division = None if machine is None else machine.division
        off = None
        if target is not None:
            off = allowed.of(target.base, division)
        yield SheetLine(
            phase=made.phase,
            key=made.key,
            title=formula.title(made.ingredient),
            target="" if target is None else str(target),
            allowed="" if off is None else _off(off, division),
            why_allowed=allowed.why,
            balance=name if machine is None else machine.title,
            lot=portion.lot or readable(made.facts.get(("lot",)), str) or "",
            weighed=_text(portion.weighed or readable(made.facts.get(("weighed",)), Quantity)),
            part=_part(number, len(portions), portion),
            kept=kept,
            premix=formula.premix_of(made.ingredient) is not None,
            second=charge is not None and charge.more.get("second_check") is True,
            hazards=codes(formula, made.ingredient),
        )


def _off(off: Fraction, division: Fraction | None) -> str:
    if division:
        off = floor(off / division) * division
        return f"\u00b1 {mass_text(off, division)}"
    return f"\u00b1 {shown(off * 1000, 0, 3)} g" if off < 1 else f"\u00b1 {shown(off, 0, 3)} kg"


def _text(value: Quantity | None) -> str:
    return "" if value is None else str(value)


def _part(number: int, count: int, portion: Portion) -> str:
    if count == 1:
        return ""
    return f"part {number} of {count}" + (f", for {portion.step}" if portion.step else "")


def _kept(charge: Charge, batch: Batch, formula: Formula) -> str:
    """Say that a charge is kept for adjusting, and how much of it may go in."""
    steps = [step.id for step in formula.recipe.steps if charge.key in step.adjust]
    if not steps:
        return ""
    most = charge.more.get("at_most")
    words = f"kept for {steps[0]}: add in parts"
    if most is not None and batch.size is not None:
        words += f", at most {mass_text(_three(Fraction(most) / 100 * batch.size.base))} in all"
    return words


def _three(mass: Fraction) -> Fraction:
    return Fraction(f"{float(mass):.4g}")


def codes(formula: Formula, ingredient: str) -> tuple[str, ...]:
    """Give the hazard codes that an ingredient states, in the order of its file."""
    found = formula.ingredients.get(ingredient)
    if found is None:
        return ()
    return tuple(
        path[2] for path, value in found.facts.items() if path[:2] == ("handling", "hazards") and value is True
    )


def _hazards(batch: Batch, formula: Formula) -> tuple[Hazard, ...]:
    about: dict[str, dict[str, None]] = {}
    for charge in batch.charges:
        for code in codes(formula, charge.ingredient):
            about.setdefault(code, {})[formula.title(charge.ingredient)] = None
    known: Mapping[str, Mapping[str, Any]] = load("hazards")["code"]
    unknown = "no wording here; see the safety data sheet"
    return tuple(
        Hazard(code, " ".join(known[part]["says"] for part in _parts(code) if part in known) or unknown, (*of,))
        for code, of in sorted(about.items())
    )


def _parts(code: str) -> list[str]:
    """Give the codes in one as written: "H361fd" is H361, "H302+H312" is both."""
    return _CODE.findall(code)


def _wear(hazards: tuple[Hazard, ...]) -> Iterator[str]:
    """Give what is worn against some hazards: common practice."""
    data = load("hazards")
    parts = [part for hazard in hazards for part in _parts(hazard.code)]
    wanted = {name for part in parts for name in data["code"].get(part, {}).get("wear", ())}
    yield from (words for name, words in data["wear"].items() if name in wanted)


def _cautions(batch: Batch, formula: Formula, equipment: Callable[[str], Equipment | None]) -> Iterator[str]:
    """Say what the batch may not claim, and what the process asks for: heat, turning parts, what [handling] notes.

    Common practice.
    """
    for claim in batch.without_claims:
        yield f"made without the claim '{claim}': nobody could say that it holds, so no pack of it may bear it"
    for step in batch.steps or ():
        stated = step.target.get("temp")
        high = stated.high if isinstance(stated, Range) else None
        if high is not None and high.base >= _HOT:
            yield f"{step.id}: {stated} scalds; heat-resistant gloves, lid on, stand aside of the pour"
            break
    rough = [step.id for step in formula.recipe.steps if step.shear in _ROUGH]
    if rough:
        yield f"{', '.join(rough)}: guard closed before the rotor starts; hands and sleeves out of the vessel"
    named = {name: equipment(name) for name in batch.equipment}
    for charge in batch.charges:
        found = formula.ingredients.get(charge.ingredient)
        note = None if found is None else found.handling("note")
        if note is not None:
            yield f"{formula.title(charge.ingredient)}: {note}"
    for name, machine in named.items():
        if machine is None:
            yield f"'{name}' is no equipment of this workspace any more"


def _step(made: BatchStep, step: Step | None, formula: Formula) -> SheetStep:
    targets = {name: str(value) for name, value in made.target.items()}
    if step is not None:
        stated = {name: step.facts.get(name) for name in (*STEP_VALUES, "accept")}
        targets = {name: str(value) for name, value in stated.items() if value is not None} | targets
    done = {name: str(value) for name, value in made.done.items()}
    for name in ("started", "ended"):
        moment = made.moment(name)
        if moment is not None:
            done[name] = moment.isoformat(sep=" ")
    if made.done_by is not None:
        done["by"] = made.done_by
    accept = targets.pop("accept", "")
    facts: Mapping[str, Any] = {} if step is None else step.facts
    return SheetStep(
        number=made.index + 1,
        id=made.name,
        title=readable(facts.get("title"), str) or "",
        vessel=(step.into or "") if step is not None else "",
        adds=() if step is None else tuple(_added(step, formula)),
        joins=() if step is None else step.joins,
        values=targets,
        remark=made.scaled or "",
        measure=(step.measure or "") if step is not None else "",
        accept=accept,
        adjust=() if step is None else step.adjust,
        note=readable(facts.get("note"), str) or "",
        second=facts.get("second_check") is True,
        done=done,
    )


def _added(step: Step, formula: Formula) -> Iterator[str]:
    for addition in step.add:
        name = addition.what.partition("/")[2]
        share = "" if addition.share is None else f"{addition.share} of "
        yield f"{share}{formula.title(name)} ({addition.what})" if name else f"{share}phase {addition.what}"


_FILLERS: Final = frozenset({"filler", "filling machine"})


def _fillers(found: Fill | None, machines: list[Equipment]) -> Iterator[str]:
    """Say what a filling machine has to put over the nominal content, by how much its packs differ."""
    for machine in machines if found is not None else ():
        spread = machine.get("repeatability", Quantity)
        if machine.kind not in _FILLERS or spread is None or found is None:
            continue
        # as a share of a pack, so that a mass stands for a volume too
        needed = overfill_needed(found.nominal, spread.base / found.pack_mass * found.mean)
        if needed is not None:
            over = shown(needed * 100, 0, 2)
            least = shown(found.nominal * (1 + needed), 0, 2)
            yield f"{machine.title}, which differs by {spread}, has to fill {over} % over, to {least} {found.unit}"


def _fill(batch: Batch, formula: Formula) -> tuple[Fill | None, str]:
    pack = batch.pack or formula.recipe.pack
    if pack is None or batch.size is None or formula.recipe.is_premix:
        return None, ""
    share = {name: batch.get(name, Quantity) for name in ("overfill", "yield")}
    over = share["overfill"].base if share["overfill"] is not None else Fraction(0)
    out = share["yield"].base if share["yield"] is not None else Fraction(1)
    if pack.dimension == "mass":
        return fill(batch.size.base, pack.base, "g", Fraction(1), over, out), ""
    sums = Breakdown(formula)
    known = filling_density(sums)
    if known.value is None:
        return None, f"packs are not counted: {'; '.join(known.missing)}"
    basis = f"{shown(known.value, 2, 3)} g/mL; {'; '.join(known.basis)}"
    return fill(batch.size.base, pack.base, "mL", known.value * 1000, over, out), basis
