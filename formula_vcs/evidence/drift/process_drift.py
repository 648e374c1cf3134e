"""How it is made: steps, order, shear, machines, times, speeds and temperatures, in the recipe and its premixes."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.diff.change_words import ARROW
from formula_vcs.evidence.drift.amount_drift import renamed
from formula_vcs.evidence.drift.drift import Drift, DriftSides, short
from formula_vcs.evidence.drift.header_drift import inside
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import STEP_RANGES, Recipe, Step
from formula_vcs.process.simulate import run_process
from formula_vcs.process.step_numbers import UNKNOWN, numbers

_RANGES: Final = tuple(name for name in STEP_RANGES if name != "temp")  # temperatures are compared in K
_MACHINE: Final = ("kind", "rotor", "impeller", "gap", "diameter", "volume")
_LITTLE: Final = Fraction(1, 100)


def drifts(sides: DriftSides) -> Iterator[Drift]:
    """Compare the process of the recipe, and of each premix that both versions use."""
    yield from _of(sides, sides.old.recipe, sides.new.recipe)
    for name in sorted(sides.old.premixes.keys() & sides.new.premixes.keys()):
        for drift in _of(sides, sides.old.premixes[name], sides.new.premixes[name]):
            yield renamed(drift, name)


def _of(sides: DriftSides, old: Recipe, new: Recipe) -> Iterator[Drift]:
    if old.facts == new.facts and sides.old.equipment == sides.new.equipment:
        return
    before, after = ({step.id: step for step in recipe.steps} for recipe in (old, new))
    yield from (Drift("step", name, f"step '{name}' is left out") for name in before if name not in after)
    yield from (Drift("step", name, f"step '{name}' is new") for name in after if name not in before)
    both = [name for name in after if name in before]
    for name in both:
        yield from _step(sides, before[name], after[name])
    yield from _order([name for name in before if name in after], both)
    yield from _places(old, new)


def _step(sides: DriftSides, was: Step, now: Step) -> Iterator[Drift]:
    yield from _shear(sides, was, now)
    yield from _mixer(sides, was, now)
    for name in _RANGES:
        if name != "speed" or was.mixer == now.mixer:  # the speed of one machine says nothing about another
            yield from _range(name, was, now)
    yield from _temperature(was, now)
    yield from _shares(was, now)
    for name in ("into", "from"):
        before, after = (str(step.facts.get(name, "")) for step in (was, now))
        if before != after:
            yield Drift("order", f"{now.id}/{name}", f"step '{now.id}' works with another vessel", detail=after)


def _class(formula: Formula, step: Step) -> tuple[str, str]:
    """Give the mode that a step states, and the class that its numbers make."""
    machine = None if step.mixer is None else formula.equipment.get(step.mixer)
    return step.shear or "", numbers(step, machine).shear_class


def _shear(sides: DriftSides, was: Step, now: Step) -> Iterator[Drift]:
    before, after = _class(sides.old, was), _class(sides.new, now)
    stated = before[0] != after[0] and bool(before[0] or after[0])
    by_numbers = before[1] != after[1] and UNKNOWN not in (before[1], after[1])
    if stated or by_numbers:
        one, other = (pair[0 if stated else 1] or "not stated" for pair in (before, after))
        by = "" if stated else " by its numbers"
        words = f"step '{now.id}': shear {one} {ARROW} {other}{by}"
        yield Drift("shear", now.id, words, detail=" ".join(after))


def _mixer(sides: DriftSides, was: Step, now: Step) -> Iterator[Drift]:
    if was.mixer == now.mixer:
        one, other = (formula.equipment.get(now.mixer or "") for formula in (sides.old, sides.new))
        facts = [[None if m is None else m.facts.get((name,)) for name in _MACHINE] for m in (one, other)]
        if one is not None and other is not None and facts[0] != facts[1]:
            words = f"step '{now.id}': '{other.id}' has other measures than it had"
            yield Drift("mixer", now.id, words, detail=str(facts[1]))
        return
    one, other = (formula.equipment.get(s.mixer or "") for formula, s in ((sides.old, was), (sides.new, now)))
    when = "mixer" if _kind(one) == _kind(other) else "mixer-kind"
    words = f"step '{now.id}': {was.mixer or 'no mixer stated'} {ARROW} {now.mixer or 'no mixer stated'}"
    yield Drift(when, now.id, words, detail=str(now.mixer))


def _kind(machine: Equipment | None) -> str:
    return "" if machine is None else "rotor-stator" if machine.is_rotor_stator else machine.kind


def _range(name: str, was: Step, now: Step) -> Iterator[Drift]:
    """Measure how far a range lies beyond the one that was tested, relative to the end that it passes."""
    before, after = was.span(name), now.span(name)
    if before is None or (after is not None and inside(after, before)):
        return
    about = f"{now.id}/{name}"
    if after is None:
        yield Drift("range", about, f"step '{now.id}': {name} {before} was tested, and none is stated now", _LITTLE)
        return
    far = _beyond(before, after, relative=True)
    percent = "" if far is None else f", {short(far * 100)} % beyond it"
    words = f"step '{now.id}': {name} {after}, tested with {before}{percent}"
    yield Drift("range", about, words, Fraction(1) if far is None else far, detail=str(after))


def _temperature(was: Step, now: Step) -> Iterator[Drift]:
    before, after = was.span("temp"), now.span("temp")
    if before is None or (after is not None and inside(after, before)):
        return
    about = f"{now.id}/temp"
    if after is None:
        words = f"step '{now.id}': {before} was tested, and no temperature is stated now"
        yield Drift("temperature", about, words, _LITTLE)
        return
    far = _beyond(before, after, relative=False)
    more = "" if far is None else f", {short(far)} K beyond it"
    words = f"step '{now.id}': {after}, tested at {before}{more}"
    yield Drift("temperature", about, words, Fraction(1000) if far is None else far, detail=str(after))


def _shares(was: Step, now: Step) -> Iterator[Drift]:
    """Measure how much more or less of a charge or a phase a step adds than it did, in its whole."""
    before, after = _added(was), _added(now)
    for what in after:
        far = abs(after[what] - before.get(what, after[what]))
        if far:
            one, other = (f"{short(shares[what] * 100)} %" for shares in (before, after))
            words = f"step '{now.id}': {other} of {what} goes in, {one} did"
            yield Drift("range", f"{now.id}/add/{what}", words, far, detail=other)


def _added(step: Step) -> dict[str, Fraction]:
    found: dict[str, Fraction] = {}
    for addition in step.add:
        share = Fraction(1) if addition.share is None else addition.share.base
        found[addition.what] = found.get(addition.what, Fraction(0)) + share
    return found


def _beyond(tested: Range, window: Range, *, relative: bool) -> Fraction | None:
    """Say how far a window reaches beyond another; None where that is no number: an open end, another unit."""
    if tested.dimension != window.dimension:
        return None
    far = Fraction(0)
    for limit, end, sign in ((tested.high, window.high, 1), (tested.low, window.low, -1)):
        if limit is None:
            continue
        if end is None or (relative and not limit.base):
            return None
        more = (end.base - limit.base) * sign
        far = max(far, more / limit.base if relative else more)
    return far


def _order(before: list[str], after: list[str]) -> Iterator[Drift]:
    if before != after:
        moved = next(name for name, was in zip(after, before, strict=True) if name != was)
        yield Drift("order", "steps", f"the steps come in another order from '{moved}' on", detail=", ".join(after))


def _places(old: Recipe, new: Recipe) -> Iterator[Drift]:
    """Compare the steps in which each material goes in; a step that came or went is said already."""
    was, now = (_goes_in(recipe) for recipe in (old, new))
    both = {step.id for step in old.steps} & {step.id for step in new.steps}
    for name in sorted(was.keys() & now.keys()):
        before, after = was[name], now[name]
        if before != after and both.issuperset((*before, *after)):
            words = f"{name} goes in at {_steps(after)}, was at {_steps(before)}"
            yield Drift("order", name, words, detail=", ".join(after))


def _goes_in(recipe: Recipe) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    order = {step.id: step.index for step in recipe.steps}
    for key, steps in run_process(recipe).places.items():
        found.setdefault(key.split("/", 1)[1], {}).update(dict.fromkeys(step.id for step in steps))
    return {name: tuple(sorted(steps, key=order.__getitem__)) for name, steps in found.items()}


def _steps(names: tuple[str, ...]) -> str:
    return " and ".join(f"'{name}'" for name in names) or "no step"
