"""What charges live through now and did not before, with the numbers; and what a reorder of steps does to them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from formula_vcs.diff.change import Change
from formula_vcs.diff.change_words import from_to
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.facts import spelled
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import STEP_ORDER, STEP_VALUES, Charge
from formula_vcs.process.simulate import Exposure
from formula_vcs.process.step_numbers import CLASSES, UNKNOWN, said

# what a charge must ask of the process for its exposure to be worth a line
_CARED: Final = ("shear_at_most", "shear_at_least")
_MOST_NAMES: Final = 6
_NOT_KNOWN: Final = "shear not known"


class Worst(NamedTuple):
    """The roughest shear that a charge sees: the mode, and the steps of that mode."""

    mode: str
    steps: tuple[Exposure, ...]


def exposures(before: Breakdown, after: Breakdown) -> list[Change]:
    """Say what charges with shear limits live through now, and of steps that concern none of them how they shear.

    A charge at the same place is the same charge.
    """
    if (
        before.formula.recipe.facts == after.formula.recipe.facts
        and before.formula.equipment == after.formula.equipment
    ):
        return []
    there = {charge.key: charge for charge in before.formula.recipe.charges}
    here = {charge.key for charge in after.formula.recipe.charges}
    changes: list[Change] = []
    for charge in after.formula.recipe.charges:
        if not _cares(after, charge):
            continue
        partner = there.get(charge.key) or next(
            (c for c in there.values() if c.ingredient == charge.ingredient and c.key not in here), None
        )
        if partner is not None:
            here.add(partner.key)  # of two that came for one that went, only the first was it
        changes += _of(before, after, partner, charge)
    told = "\n".join(change.text for change in changes)
    own = [step for name, step in _steps(before, after) if f"step '{name}'" not in told]
    return [*changes, *own, *_premix_steps(before, after)]


def _steps(before: Breakdown, after: Breakdown, premix: str = "") -> Iterator[tuple[str, Change]]:
    """Say which steps shear otherwise than they did, whether or not a charge asks for something."""
    old = {step.id: step for step in before.formula.recipe.steps}
    whose, at = (f"premix '{premix}', ", ("premix", premix)) if premix else ("", ())
    for step in after.formula.recipe.steps:
        past = old.get(step.id)
        if past is None or (step.mixer is None and past.mixer is None):
            continue
        machines = (sums.formula.equipment.get(one.mixer or "") for sums, one in ((before, past), (after, step)))
        if past.facts == step.facts and next(machines) == next(machines):
            continue
        was, now = (said(sums.numbers(one)) for sums, one in ((before, past), (after, step)))
        if was != now:
            words = f"{whose}step '{step.id}': {from_to(was or _NOT_KNOWN, now or _NOT_KNOWN)}"
            yield step.id, Change("exposure", spelled((*at, "step", step.id)), was or None, now or None, words)


def _premix_steps(before: Breakdown, after: Breakdown) -> Iterator[Change]:
    """Say the same of the steps that make the premixes of both versions."""
    for name, premix in after.formula.premixes.items():
        past = before.formula.premixes.get(name)
        if past is not None and (past.facts != premix.facts or before.formula.equipment != after.formula.equipment):
            old, new = Breakdown(before.formula.of_premix(past)), Breakdown(after.formula.of_premix(premix))
            yield from (change for _, change in _steps(old, new, name))


def _cares(sums: Breakdown, charge: Charge) -> bool:
    """Say whether a charge's material states limits of shear."""
    material = sums.formula.ingredients.get(charge.ingredient)
    return material is not None and material.derived.cached(
        "cares for shear", lambda: any(material.handling(name) for name in _CARED)
    )


def _of(before: Breakdown, after: Breakdown, partner: Charge | None, charge: Charge) -> list[Change]:
    was = None if partner is None else _history(before, partner.key)
    now = _history(after, charge.key)
    if was == now:
        return []
    title = after.formula.title(charge.ingredient)
    past = "was not there" if was is None or partner is None else f"was {_shortly(before, partner.key, now)}"
    words = f"{charge.ingredient} ({charge.phase}), {title}: {past}, now {now}"
    difference = "" if partner is None else _difference(before, after, partner.key, charge.key)
    return [Change("exposure", spelled((partner or charge).path), was, now, words, told_with=difference)]


def _difference(before: Breakdown, after: Breakdown, old: str, new: str) -> str:
    """Say what a charge sees otherwise, without saying which: ``low shear 10 min longer in 'salt'``."""
    was, now = worst(before, old), worst(after, new)
    if was is None or now is None or was.mode != now.mode:
        return f"{_history(after, new)}, before {_shortly(before, old, _history(after, new))}"
    past, present = ({exposure.step.id: exposure for exposure in side.steps} for side in (was, now))
    parts: list[str] = []
    for name in dict.fromkeys((*past, *present)):
        if name not in present:
            parts.append(f"no {now.mode} shear any more in '{name}'")
        elif name not in past:
            parts.append(_said(after, now.mode, present[name]))
        elif _said(before, was.mode, past[name]) != _said(after, now.mode, present[name]):
            parts.append(_otherwise((before, past[name]), (after, present[name]), now.mode))
    return ", ".join(parts)


def _otherwise(old: tuple[Breakdown, Exposure], new: tuple[Breakdown, Exposure], mode: str) -> str:
    """Say how the same step shears otherwise: longer or shorter, or with what numbers."""
    was, now = (sums.numbers(exposure.step) for sums, exposure in (old, new))
    longer = _longer(old[1], new[1])
    speeds = [exposure.step.span("speed") for _, exposure in (old, new)]
    if said(was) == said(now) and speeds[0] == speeds[1] and longer:
        return f"{mode} shear {longer} in '{new[1].step.id}'"
    return f"{_said(new[0], mode, new[1])}, before {_said(old[0], mode, old[1]).partition(' in step ')[0]}"


def _longer(old: Exposure, new: Exposure) -> str:
    """Say how much longer or shorter a step takes, where both state one time in one unit."""
    was, now = (exposure.step.span("time") for exposure in (old, new))
    ends = [] if was is None or now is None else [was.low, was.high, now.low, now.high]
    if not ends or any(end is None for end in ends) or was is None or now is None:
        return ""
    if was.low != was.high or now.low != now.high or was.low is None or now.low is None or was.low.unit != now.low.unit:
        return ""
    by = now.low.value - was.low.value
    return f"{abs(by):f} {now.low.unit} {'longer' if by > 0 else 'shorter'}" if by else ""


class ExposureTold(NamedTuple):
    """What follows, said once: the words, and the ids of the changes that they stand for."""

    text: str
    changes: tuple[str, ...]


def told_once(changes: Iterable[Change]) -> list[ExposureTold]:
    """Say derived changes, those of several charges that see the same otherwise in one line.

    "6 charges see low shear 10 min longer in 'salt'"; up to three are named.
    """
    groups: dict[str, list[Change]] = {}
    for change in changes:
        groups.setdefault(change.told_with or change.id, []).append(change)
    return [ExposureTold(_told(group), tuple(change.id for change in group)) for group in groups.values()]


def _told(group: Sequence[Change]) -> str:
    if not group[0].told_with:
        return group[0].text
    names = [change.text.partition("), ")[0] + ")" for change in group]
    who = ", ".join(names) if len(names) <= _MOST_TOLD else f"{len(names)} charges"
    return f"{who} {'sees' if len(names) == 1 else 'see'} {group[0].told_with}"


_MOST_TOLD: Final = 2  # charges that are named


def worst(sums: Breakdown, key: str) -> Worst | None:
    """The roughest shear that a charge sees, by the modes that its steps state or by their numbers."""
    seen = [(exposure, _mode(sums, exposure)) for exposure in sums.walk.exposures.get(key, ())]
    known = [(exposure, name) for exposure, name in seen if name not in ("none", UNKNOWN)]
    if not known:
        return None
    top = max((name for _, name in known), key=CLASSES.index)
    return Worst(top, tuple(exposure for exposure, name in known if name == top))


def _mode(sums: Breakdown, exposure: Exposure) -> str:
    """The mode that a step states, or a rougher one that even its lowest speed comes to."""
    stated = exposure.step.shear
    if exposure.step.mixer is None:
        return stated or "none"
    found = sums.numbers(exposure.step)
    if stated is None:
        return found.shear_class
    least = "high" if found.classes[0] == "very high" else found.classes[0]
    return stated if least == UNKNOWN else max(stated, least, key=CLASSES.index)


def _history(sums: Breakdown, key: str) -> str:
    """Say the roughest shear with its time, its numbers and its step: ``8 min at high shear (tip speed ...)``."""
    top = worst(sums, key)
    if top is None:
        return "no shear"
    return " and ".join(_said(sums, top.mode, exposure) for exposure in top.steps)


def _said(sums: Breakdown, name: str, exposure: Exposure) -> str:
    step = exposure.step
    time = step.span("time")
    numbers = said(sums.numbers(step))
    speed = step.span("speed")
    more = numbers or (str(speed) if speed is not None else "")
    by = "" if step.shear in (None, name) else " by its numbers"
    how = f"{name} shear{by}{f' ({more})' if more else ''}"
    return f"{f'{time} at ' if time is not None else ''}{how} in step '{step.id}'"


def _shortly(sums: Breakdown, key: str, now: str) -> str:
    """Say what was: shortly where the class was a gentler one, else in full."""
    top = worst(sums, key)
    if top is None:
        return "no shear"
    if not any(f"{mode} shear" in now for mode in CLASSES[CLASSES.index(top.mode) + 1 :]):
        return _history(sums, key)
    return f"{top.mode} shear only"


def reorder(before: Breakdown, after: Breakdown, *, breaks: bool) -> list[Change]:
    """Say of steps that only changed places what that does to the charges: nothing, or whom it concerns.

    ``breaks`` says that the new order breaks a rule of the process that the old one kept.
    """
    old, new = (sums.formula.recipe for sums in (before, after))
    orders = [recipe.facts.get(STEP_ORDER, ()) for recipe in (old, new)]
    common = [[name for name in order if name in set(orders[1 - i])] for i, order in enumerate(orders)]
    if common[0] == common[1]:
        return []
    keys = [charge.key for charge in new.charges if charge.key in {c.key for c in old.charges}]
    cared = {charge.key for charge in new.charges if _cares(after, charge)}
    moved = sorted((key for key in keys if _seen(before, key) != _seen(after, key)), key=lambda key: key not in cared)
    if not moved:
        words = "the reorder of steps changes what no charge lives through"
        words += ", but it breaks a rule" if breaks else " and breaks no rule"
        return [Change("exposure", "step-order", None, "no exposure changed", words)]
    names = ", ".join(key.split("/", 1)[1] for key in moved[:_MOST_NAMES])
    if len(moved) > _MOST_NAMES:
        names += f" and {len(moved) - _MOST_NAMES} more"
    same = all(sorted(_seen(before, key)) == sorted(_seen(after, key)) for key in moved)
    count = "1 charge goes" if len(moved) == 1 else f"{len(moved)} charges go"
    words = f"the reorder of steps: {count} through the process {'in another order' if same else 'otherwise'}: {names}"
    return [Change("exposure", "step-order", None, words, words)]


def _seen(sums: Breakdown, key: str) -> list[tuple[str, ...]]:
    """What a charge lives through, step by step, as far as it is shear, warmth or time."""
    return [
        (exposure.step.id, *(_text(exposure.step.facts.get(name)) for name in STEP_VALUES))
        for exposure in sums.walk.exposures.get(key, ())
    ]


def _text(value: object) -> str:
    return str(value) if isinstance(value, str | Range) else ""
