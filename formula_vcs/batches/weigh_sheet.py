"""A weigh sheet: what a batch file, the recipe that it pins and the equipment say to whoever makes the batch."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from math import floor
from typing import Any, Final

from formula_vcs.batches.pack_fill import Fill, fill, overfill_needed
from formula_vcs.batches.sheet_masses import (
    StepCharge,
    in_unit,
    portions_of,
    step_charges,
    units,
    window,
    without_a_step,
)
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.density import filling_density
from formula_vcs.figures.pack_cost import filling, pieces_for
from formula_vcs.figures.tolerance import mistaken_words, off_target, tolerance_of
from formula_vcs.figures.weighing import mass_text
from formula_vcs.model.batch import Batch, BatchCharge, BatchStep, Portion
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import readable
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_VALUES, Charge, Step
from formula_vcs.model.spec_line import SpecLine
from formula_vcs.model.values import dataclass, replace
from formula_vcs.toml.package_data import load
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import shown

CAUTION: Final = (
    "This sheet is arithmetic. Whether and how it may be made is decided by the rules of the place and by a site that "
    "is licensed for it; the safety data sheet of each lot comes before the words here."
)
_HOT: Final = Fraction("333.15")  # 60 degC
_CODE: Final = late_pattern(r"EUH\d{3}|H\d{3}")
_ROUGH: Final = ("high", "medium")


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One weighing: the charge, or a part of it for a step.  Texts are as they are printed; empty where unknown.

    ``target`` is in the unit of its balance, ``window`` the masses that are allowed, ``off`` by how much what was
    weighed lies outside.  ``code`` is the supplier's, and ``others`` names other grades of the same INCI names among
    the charges.
    """

    phase: str
    key: str
    title: str
    ingredient: str
    code: str
    supplier: str
    others: tuple[str, ...]
    target: str
    window: str
    allowed: str
    why_allowed: str
    balance: str
    lot: str
    weighed: str
    off: str
    by: str
    checked_by: str
    part: str
    kept: str
    premix: bool
    second: bool
    hazards: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetPoint:
    """One value of a step: its name (shear, speed ...), what is wanted, what was done, and how that misses it."""

    name: str
    wanted: str
    done: str = ""
    off: str = ""


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One step: what goes in by name and mass, its set points, what is measured, and what was done by now."""

    number: int
    id: str
    title: str
    vessel: str
    adds: tuple[StepCharge, ...]
    joins: tuple[str, ...]
    points: tuple[SheetPoint, ...]
    remark: str
    measure: SheetPoint | None
    adjusts: tuple[StepCharge, ...]
    note: str
    second: bool
    started: str
    ended: str
    by: str
    checked_by: str

    @property
    def recorded(self) -> bool:
        """Say whether anything of it was filled in."""
        points = (*self.points, *((self.measure,) if self.measure is not None else ()))
        return bool(self.started or self.ended or self.by or any(point.done for point in points))


@dataclass(frozen=True, slots=True)
class SheetResult:
    """One result: its name, the spec (empty where it asks for none), what was measured, and how that misses it."""

    name: str
    spec: str
    value: str
    off: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """One hazard statement, and whom it is about."""

    code: str
    says: str
    of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeighSheet:
    """A weigh sheet whole, ready to be written.

    ``dry_run`` says that there is no such batch, and ``unused`` names the charges that no step takes.
    """

    batch: Batch
    formula: Formula
    dry_run: bool
    lines: tuple[SheetLine, ...]
    unused: tuple[str, ...]
    steps: tuple[SheetStep, ...]
    results: tuple[SheetResult, ...]
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
    *,
    dry_run: bool = False,
) -> WeighSheet:
    """Gather a sheet; ``equipment`` finds a piece of equipment by its id."""
    charges = {charge.key: charge for charge in formula.recipe.charges}
    bench = _Bench(batch, formula, equipment, units(batch.charges))
    lines = tuple(line for made in batch.charges for line in _lines(made, charges.get(made.key), bench))
    steps = {step.id: step for step in formula.recipe.steps}
    made_steps = batch.steps or tuple(BatchStep(step.id, step.index, {}) for step in formula.recipe.steps)
    taken = step_charges(batch, formula)
    maker = _StepMaker(bench, taken)
    found = tuple(maker.step(one, steps.get(one.id)) for one in made_steps)
    hazards = _hazards(batch, formula)
    total = sum((c.target.base for c in batch.charges if c.target is not None), Fraction(0))
    filled, basis = _fill(batch, formula)
    machines = [one for name in batch.equipment if (one := equipment(name)) is not None]
    return WeighSheet(
        batch=batch,
        formula=formula,
        dry_run=dry_run,
        lines=lines,
        unused=tuple(without_a_step(batch, taken, formula)) if formula.recipe.steps else (),
        steps=found,
        results=tuple(_results(batch, formula)),
        hazards=hazards,
        wear=tuple(_wear(hazards)),
        cautions=tuple(_cautions(batch, formula, equipment)),
        equipment=tuple(_named(name, equipment) for name in batch.equipment),
        fill=filled,
        fill_basis=basis,
        fillers=(
            *_fillers(filled, machines),
            *(pieces_for(formula, filled.packs) if filled is not None else ()),
        ),
        total=mass_text(total),
        notes=tuple(line for line in (batch.get("note") or "").splitlines() if line.strip()),
    )


def in_order(sheets: Sequence[WeighSheet]) -> list[WeighSheet]:
    """Put the sheets of one making into the order of work: a premix before what takes it."""
    by_id = {sheet.batch.id: sheet for sheet in sheets}
    done: dict[str, WeighSheet] = {}
    waiting = [(sheet.batch.id, False) for sheet in reversed(sheets)]
    opened: set[str] = set()
    while waiting:
        name, ready = waiting.pop()
        if ready:
            done.setdefault(name, by_id[name])
        elif name not in opened:
            opened.add(name)
            waiting.append((name, True))
            waiting += [(lot, False) for lot in reversed(by_id[name].batch.lots) if lot in by_id]
    return list(done.values())


def _named(name: str, equipment: Callable[[str], Equipment | None]) -> str:
    found = equipment(name)
    return name if found is None or found.title == name else f"{found.title} ({name})"


@dataclass(frozen=True)
class _Bench:
    """What every line and step of a sheet is made from; ``unit`` is that of each balance."""

    batch: Batch
    formula: Formula
    equipment: Callable[[str], Equipment | None]
    unit: Mapping[str, str]

    def mass(self, row: Portion, made: BatchCharge) -> str:
        """Write the target of a weighing in the unit of its balance; empty where there is none."""
        return "" if row.target is None else in_unit(row.target, self.unit.get(row.balance or made.balance or "", ""))


def _lines(made: BatchCharge, charge: Charge | None, bench: _Bench) -> Iterator[SheetLine]:
    batch, formula = bench.batch, bench.formula
    ingredient = formula.ingredients.get(made.ingredient)
    allowed = tolerance_of(charge, ingredient, formula.workspace)
    kept = "" if charge is None else _kept(charge, batch, formula)
    portions = portions_of(made)
    for number, portion in enumerate(portions, 1):
        target = portion.target or (made.target if len(portions) == 1 else None)
        name = portion.balance or made.balance or ""
        machine = bench.equipment(name) if name else None
        division = None if machine is None else machine.division
        text = bench.mass(replace(portion, target=target), made)
        off = None if target is None else allowed.of(target.base, division)
        weighed = portion.weighed or readable(made.facts.get(("weighed",)), Quantity)
        missed = "" if kept or target is None or weighed is None else _missed(weighed.base, target.base, off)
        yield SheetLine(
            phase=made.phase,
            key=made.key,
            title=formula.title(made.ingredient),
            ingredient=made.ingredient,
            code=(ingredient and ingredient.get("code")) or "",
            supplier=(ingredient and ingredient.get("supplier")) or "",
            others=_others(made.ingredient, batch, formula),
            target=text,
            window="" if kept or target is None or off is None else window(text, target.base, _floored(off, division)),
            allowed="" if off is None else _off(off, division),
            why_allowed=allowed.why,
            balance=name if machine is None else machine.title,
            lot=portion.lot or readable(made.facts.get(("lot",)), str) or "",
            weighed=_text(weighed),
            off=missed,
            by=made.weighed_by or (batch.made_by or "" if weighed is not None else ""),
            checked_by=made.checked_by or "",
            part=_part(number, len(portions), portion),
            kept=kept,
            premix=formula.premix_of(made.ingredient) is not None,
            second=charge is not None and charge.more.get("second_check") is True,
            hazards=codes(formula, made.ingredient),
        )


def _missed(weighed: Fraction, target: Fraction, off: Fraction | None) -> str:
    """Say by how much a mass is out of its window; empty where it is not."""
    if off is None or abs(weighed - target) <= off:
        return ""
    wrong = mistaken_words(weighed, target)
    return wrong or f"{mass_text(abs(weighed - target))} {'over' if weighed > target else 'under'} its target"


def _others(ingredient: str, batch: Batch, formula: Formula) -> tuple[str, ...]:
    """Name the other grades of the same INCI names among the charges, title and id."""
    mine = formula.ingredients.get(ingredient)
    if mine is None or not mine.inci:
        return ()
    names = dict.fromkeys(charge.ingredient for charge in batch.charges if charge.ingredient != ingredient)
    same = [found for name in names if (found := formula.ingredients.get(name)) is not None and found.inci == mine.inci]
    return tuple(f"{found.title} ({found.id})" for found in same)


def _floored(off: Fraction, division: Fraction | None) -> Fraction:
    return floor(off / division) * division if division else off


def _off(off: Fraction, division: Fraction | None) -> str:
    if division:
        return f"\u00b1 {mass_text(_floored(off, division), division)}"
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
    most = _at_most(charge, batch)
    return f"kept for {steps[0]}: add in parts" + (f", at most {most} in all" if most else "")


def _at_most(charge: Charge, batch: Batch) -> str:
    """Give the most that may go in of what is kept for adjusting; empty where nobody says."""
    most = charge.more.get("at_most")
    if most is None or batch.size is None:
        return ""
    return mass_text(_three(Fraction(most) / 100 * batch.size.base))


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


@dataclass(frozen=True)
class _StepMaker:
    """Makes the steps of one sheet."""

    bench: _Bench
    taken: Mapping[str, tuple[StepCharge, ...]]

    def step(self, made: BatchStep, step: Step | None) -> SheetStep:
        """Give a step; None where the recipe has none of its name."""
        facts: Mapping[str, Any] = {} if step is None else step.facts
        wanted: dict[str, Any] = {name: facts.get(name) for name in (*STEP_VALUES, "accept")}
        wanted |= made.target
        done = made.done
        names = [name for name in (*STEP_VALUES, "viscosity") if wanted.get(name) is not None or name in done]
        measures = readable(facts.get("measure"), str) or ("it" if "measured" in done else "")
        moments = {name: made.moment(name) for name in ("started", "ended")}
        times = {
            name: "" if moment is None else moment.isoformat(sep=" ", timespec="minutes")
            for name, moment in moments.items()
        }
        again = made.again > 1
        return SheetStep(
            number=made.index + 1,
            id=made.name,
            title=readable(facts.get("title"), str) or "",
            vessel=(step.into or "") if step is not None else "",
            # a step that is done again takes nothing again
            adds=() if step is None or again else self.taken.get(step.id, ()),
            joins=() if step is None or again else step.joins,
            points=tuple(self._point(name, wanted.get(name), done.get(name), name) for name in names),
            remark=made.scaled or "",
            measure=self._point(measures, wanted.get("accept"), done.get("measured"), "measured") if measures else None,
            adjusts=() if step is None else tuple(map(self._adjusting, step.adjust)),
            note=readable(facts.get("note"), str) or "",
            second=facts.get("second_check") is True,
            started=times["started"],
            ended=times["ended"],
            by=made.done_by or "",
            checked_by=made.checked_by or "",
        )

    def _point(self, name: str, wanted: object, done: object, kind: str) -> SheetPoint:
        off = ""
        if isinstance(wanted, Range | str) and isinstance(done, Range | str):
            off = off_target(kind, done, wanted)
        return SheetPoint(name, self._said(kind, wanted), self._said(kind, done), off)

    def _said(self, kind: str, value: object) -> str:
        if not isinstance(value, Range | str):
            return ""
        return _named(str(value), self.bench.equipment) if kind == "mixer" else str(value)

    def _adjusting(self, key: str) -> StepCharge:
        """Give what is kept for adjusting: what is planned, and the most that may go in."""
        batch, formula = self.bench.batch, self.bench.formula
        charge = next((one for one in formula.recipe.charges if one.key == key), None)
        plans = [
            text for made in batch.charges if made.key == key for row in portions_of(made)
            if (text := self.bench.mass(row, made))
        ]  # fmt: skip
        most = "" if charge is None else _at_most(charge, batch)
        return StepCharge(key, formula.title(key.partition("/")[2]), " and ".join(plans), most=most)


def _results(batch: Batch, formula: Formula) -> Iterator[SheetResult]:
    """Hold what was measured or judged against the spec of the version that was made."""
    spec = formula.recipe.spec_lines
    found: dict[str, Quantity | bool] = {**batch.results, **batch.judged}
    for name in dict.fromkeys((*spec, *found)):
        line, value = spec.get(name), found.get(name)
        said = "" if value is None else str(value)
        if isinstance(value, bool):
            said = "conforms" if value else "does not conform"
        off = "" if line is None or value is None else _off_spec(line, value)
        yield SheetResult(name, "" if line is None else str(line), said, off)


def _off_spec(line: SpecLine, value: Quantity | bool) -> str:
    """Say how a result misses its line of the spec; empty where it does not."""
    asks = line.asks
    if isinstance(asks, str) or isinstance(value, bool):
        if isinstance(asks, str) and isinstance(value, bool):
            return "" if value else "outside"
        return "is no answer to the spec"
    if any(end is not None and not end.comparable(value) for end in (asks.low, asks.high)):
        return "measures something else than the spec"
    if asks.contains(value):
        return ""
    return "below" if asks.low is not None and value.base < asks.low.base else "above"


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
    stated: list[Quantity | None] = [batch.get(name, Quantity) for name in ("overfill", "yield")]
    over, out = filling(formula, *(None if one is None else one.base for one in stated))
    if pack.dimension == "mass":
        return fill(batch.size.base, pack.base, "g", Fraction(1), over, out), ""
    sums = Breakdown(formula)
    known = filling_density(sums)
    if known.value is None:
        return None, f"packs are not counted: {'; '.join(known.missing)}"
    basis = f"{shown(known.value, 2, 3)} g/mL; {'; '.join(known.basis)}"
    return fill(batch.size.base, pack.base, "mL", known.value * 1000, over, out), basis


def sheet_from_text(
    name: str,
    text: str,
    formula: Formula,
    equipment: Callable[[str], Equipment | None],
    *,
    dry_run: bool = False,
) -> WeighSheet:
    """Gather the sheet of a batch that is not on disk yet, as it will be read from there; or of one that never is."""
    facts = facts_of("batches", parse(text.encode("utf-8")).data)
    return sheet_of(Batch(name, facts), formula, equipment, dry_run=dry_run)
