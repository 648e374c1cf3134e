"""The process walked step by step: what is in each vessel, and what every charge lives through."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from formula_vcs.model.amount import Addition
from formula_vcs.model.facts import Path
from formula_vcs.model.recipe import Charge, Recipe, Step

DEFAULT_VESSEL = "main"


@dataclass(frozen=True, slots=True)
class Exposure:
    """One step that a charge was in a vessel for, with the shear mode that the step states (none where it does not)."""

    step: Step
    shear: str


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something about the process that cannot be: which rule it breaks, where (a path of facts), and the words."""

    rule: str
    at: Path
    subject: str
    message: str


@dataclass
class Walk:
    """The walk of a recipe's steps.

    ``shares`` says how much of each charge (0 to 1) the steps have used, ``vessels`` what is in each vessel at
    the end, ``exposures`` the steps that each charge was there for, in order.
    """

    shares: dict[str, Fraction] = field(default_factory=dict)
    vessels: dict[str, dict[str, Fraction]] = field(default_factory=dict)
    exposures: dict[str, list[Exposure]] = field(default_factory=dict)
    troubles: list[Trouble] = field(default_factory=list)
    places: dict[str, list[Step]] = field(default_factory=dict)

    def full(self) -> list[str]:
        """Name the vessels that hold something."""
        return [name for name, content in self.vessels.items() if content]


def walk(recipe: Recipe) -> Walk:
    """Walk the steps of a recipe."""
    state = Walk()
    charges = {charge.key: charge for charge in recipe.charges}
    kept = _named_apart(recipe)
    for step in recipe.steps:
        vessel = _vessel(state, step)
        if vessel is None:
            continue
        _join(state, step, vessel)
        for addition in step.add:
            _add(state, step, vessel, addition, charges, recipe, kept)
        for key in step.adjust:
            _adjust(state, step, vessel, key, charges)
        _expose(state, step, vessel)
    return state


def _named_apart(recipe: Recipe) -> set[str]:
    """Name the charges that some step names itself, so that their phase no longer brings them."""
    named = {addition.what for step in recipe.steps for addition in step.add if "/" in addition.what}
    return named | {key for step in recipe.steps for key in step.adjust}


def _vessel(state: Walk, step: Step) -> str | None:
    if step.into is not None:
        return step.into
    full = state.full()
    if len(full) > 1:
        words = f"step '{step.id}' does not say which vessel it works in ('into'): {_list(full)} hold product"
        state.troubles.append(Trouble("step-vessel", step.path, step.id, words))
        return None
    return full[0] if full else DEFAULT_VESSEL


def _join(state: Walk, step: Step, vessel: str) -> None:
    for source in step.joins:
        content = state.vessels.get(source)
        if source == vessel:
            words = f"step '{step.id}' joins vessel '{source}' with itself"
        elif not content:
            words = f"step '{step.id}' takes from vessel '{source}', which holds nothing by then"
        else:
            target = state.vessels.setdefault(vessel, {})
            for key, share in content.items():
                target[key] = target.get(key, Fraction(0)) + share
            state.vessels[source] = {}
            continue
        state.troubles.append(Trouble("reference", (*step.path, "from"), f"{step.id}/from/{source}", words))


def _add(  # noqa: PLR0917 - one addition needs all of it
    state: Walk,
    step: Step,
    vessel: str,
    addition: Addition,
    charges: dict[str, Charge],
    recipe: Recipe,
    kept: set[str],
) -> None:
    at = (*step.path, "add")
    if "/" in addition.what:
        if addition.what in charges:
            _put(state, step, vessel, addition.what, _share(addition))
        else:
            words = f"step '{step.id}' adds '{addition.what}', and there is no such charge"
            state.troubles.append(Trouble("reference", at, f"{step.id}/add/{addition.what}", words))
        return
    if addition.what not in recipe.phases:
        words = f"step '{step.id}' adds phase '{addition.what}', and there is no such phase"
        state.troubles.append(Trouble("reference", at, f"{step.id}/add/{addition.what}", words))
        return
    brought = [key for key, charge in charges.items() if charge.phase == addition.what and key not in kept]
    if not brought:
        words = f"step '{step.id}' adds phase {addition.what}, but other steps take every charge of it by name"
        state.troubles.append(Trouble("step-charges", at, f"{step.id}/add/{addition.what}", words))
    for key in brought:
        _put(state, step, vessel, key, _share(addition))


def _share(addition: Addition) -> Fraction:
    return Fraction(1) if addition.share is None else addition.share.base


def _adjust(state: Walk, step: Step, vessel: str, key: str, charges: dict[str, Charge]) -> None:
    if key in charges:
        _put(state, step, vessel, key, Fraction(1))
        return
    words = f"step '{step.id}' adjusts with '{key}', and there is no such charge"
    if "/" not in key:
        words += " (a charge is written phase/ingredient)"
    state.troubles.append(Trouble("reference", (*step.path, "adjust"), f"{step.id}/adjust/{key}", words))


def _put(state: Walk, step: Step, vessel: str, key: str, share: Fraction) -> None:
    content = state.vessels.setdefault(vessel, {})
    content[key] = content.get(key, Fraction(0)) + share
    state.shares[key] = state.shares.get(key, Fraction(0)) + share
    steps = state.places.setdefault(key, [])
    if not any(step is known for known in steps):
        steps.append(step)


def _expose(state: Walk, step: Step, vessel: str) -> None:
    content = state.vessels.get(vessel)
    if content is None:
        return
    exposure = Exposure(step, step.shear or "none")
    for key in content:
        state.exposures.setdefault(key, []).append(exposure)


def _list(names: list[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
