"""The process walked step by step: what is in each vessel, how warm it is, and what every charge lives through."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from formula_vcs.model.amount import Addition
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Severity
from formula_vcs.model.recipe import Charge, Recipe, Step

DEFAULT_VESSEL = "main"
_WHOLE = Fraction(1)
Content = dict[str, Fraction]


class Warmth(NamedTuple):
    """A temperature range in K, an open end None; ``stated`` says that this very step states it."""

    low: Fraction | None
    high: Fraction | None
    stated: bool

    def carried(self) -> Warmth:
        """Give the same as a later step that states nothing finds it."""
        return Warmth(self.low, self.high, stated=False)


class Exposure(NamedTuple):
    """One step that a charge was in a vessel for, with the shear mode that the step states (none where it does not)."""

    step: Step
    shear: str
    vessel: str = DEFAULT_VESSEL
    warmth: Warmth | None = None


class Arrival(NamedTuple):
    """Charges that come into a vessel at once: added, or from another vessel (``source``)."""

    step: Step
    vessel: str
    keys: tuple[str, ...]
    source: str = ""


class StepState(NamedTuple):
    """The state after one step: what is in each vessel (the share of each charge, 0 to 1), and how warm it is."""

    step: Step
    vessel: str
    arrivals: tuple[Arrival, ...]
    contents: Mapping[str, Content]
    warmth: Mapping[str, Warmth]


class Trouble(NamedTuple):
    """Something about the process that cannot be: which rule it breaks, where (a path of facts), and the words."""

    rule: str
    at: Path
    subject: str
    message: str
    severity: Severity = "block"


class ProcessRun:
    """The walk of a recipe's steps.

    ``shares`` says how much of each charge (0 to 1) the steps have used, ``vessels`` what is in each vessel at
    the end, ``exposures`` the steps that each charge was there for, in order, and ``stages`` the state after each.
    """

    def __init__(self) -> None:
        """Begin with empty vessels."""
        self.shares: Content = {}
        self.vessels: dict[str, Content] = {}
        self.warmth: dict[str, Warmth] = {}
        self.exposures: dict[str, list[Exposure]] = {}
        self.troubles: list[Trouble] = []
        self.places: dict[str, list[Step]] = {}
        self.stages: list[StepState] = []

    def full(self) -> list[str]:
        """Name the vessels that hold something."""
        return [name for name, content in self.vessels.items() if content]


class _Walker:
    """One walk under way: the recipe's charges, and which of them their phase no longer brings."""

    def __init__(self, recipe: Recipe) -> None:
        self.recipe = recipe
        self.state = ProcessRun()
        self.charges: dict[str, Charge] = {charge.key: charge for charge in recipe.charges}
        self.kept = _named_apart(recipe)
        self.arrivals: list[Arrival] = []
        self.came_from: dict[str, set[str]] = {}  # vessel: the vessels that what it holds has been in

    def trouble(self, rule: str, at: Path, subject: str, message: str) -> None:
        self.state.troubles.append(Trouble(rule, at, subject, message))

    def step(self, step: Step) -> None:
        vessel = self._vessel(step)
        if vessel is None:
            self._count(step)
            return
        self.arrivals = []
        if step.facts.keys() & _BRINGING:
            # the content that earlier stages show must not change under them
            self.state.vessels[vessel] = dict(self.state.vessels.get(vessel, ()))
        for source in step.joins:
            self._join(step, vessel, source)
        for addition in step.add:
            self._add(step, vessel, addition)
        for key in step.adjust:
            self._adjust(step, vessel, key)
        if not self.state.vessels.get(vessel) and not step.facts.keys() & _BRINGING:
            words = f"step '{step.id}' works in vessel '{vessel}', which holds nothing by then"
            # to heat, rinse or evacuate an empty vessel is work too; stirring and measuring nothing is none
            idle = step.shear in (None, "none") and not step.facts.keys() & {"measure", "rest", "speed"}
            severity: Severity = "warn" if idle else "block"
            self.state.troubles.append(Trouble("step-vessel", step.path, f"{step.id}/empty", words, severity))
        self._warm(step, vessel)
        self._expose(step, vessel)
        state = self.state
        state.stages.append(StepState(step, vessel, tuple(self.arrivals), dict(state.vessels), dict(state.warmth)))

    def _count(self, step: Step) -> None:
        """Use up what a step adds that does not say where, so that only this is said of it."""
        names = {addition.what for addition in step.add} | set(step.adjust)
        for key, charge in self.charges.items():
            if key in names or (charge.phase in names and key not in self.kept):
                self.state.shares[key] = _WHOLE

    def _vessel(self, step: Step) -> str | None:
        if step.into is not None:
            return step.into
        full = self.state.full()
        if len(full) > 1:
            words = f"step '{step.id}' does not say which vessel it works in ('into'): {_list(full)} hold product"
            self.trouble("step-vessel", step.path, step.id, words)
            return None
        return full[0] if full else DEFAULT_VESSEL

    def _join(self, step: Step, vessel: str, source: str) -> None:
        content = self.state.vessels.get(source)
        if source == vessel:
            words = f"step '{step.id}' joins vessel '{source}' with itself"
        elif not content:
            words = f"step '{step.id}' takes from vessel '{source}', which holds nothing by then"
        else:
            target = self.state.vessels[vessel]
            for key, share in content.items():
                target[key] = target.get(key, Fraction(0)) + share
            self.state.vessels[source] = {}
            self._turn(step, vessel, source)
            self.arrivals.append(Arrival(step, vessel, tuple(content), source))
            self._mix_warmth(vessel, source, alone=len(target) == len(content))
            return
        self.trouble("reference", (*step.path, "from"), f"{step.id}/from/{source}", words)

    def _turn(self, step: Step, vessel: str, source: str) -> None:
        """Say content that comes back to a vessel which it has left: the vessels go round in a circle."""
        past = self.came_from.pop(source, set())
        if vessel in past:
            what = f"takes back from vessel '{source}' what had left '{vessel}'"
            words = f"step '{step.id}' {what}: they go round in a circle"
            subject = f"{step.id}/from/{source}"
            self.state.troubles.append(Trouble("step-vessel", (*step.path, "from"), subject, words, "warn"))
        self.came_from[vessel] = self.came_from.get(vessel, set()) | past | {source}

    def _mix_warmth(self, vessel: str, source: str, *, alone: bool) -> None:
        """Two contents together lie somewhere between the colder and the warmer; of an unknown one nothing is said."""
        warmth = self.state.warmth
        brought, here = warmth.pop(source, None), warmth.get(vessel)
        if alone and here is None and brought is not None:
            warmth[vessel] = brought.carried()
        elif brought is None or here is None:
            warmth.pop(vessel, None)
        else:
            low = None if brought.low is None or here.low is None else min(brought.low, here.low)
            high = None if brought.high is None or here.high is None else max(brought.high, here.high)
            warmth[vessel] = Warmth(low, high, stated=False)

    def _add(self, step: Step, vessel: str, addition: Addition) -> None:
        what, share = addition.what, _WHOLE if addition.share is None else addition.share.base
        at = (*step.path, "add", str(step.add.index(addition)))
        if share > 1:
            words = f"step '{step.id}' adds {addition}, more than there is of it"
            self.trouble("step-charges", at, f"{step.id}/add/{what}/share", words)
        if "/" in what:
            if what in self.charges:
                self._put(step, vessel, (what,), share)
            else:
                words = f"step '{step.id}' adds '{what}', and there is no such charge"
                self.trouble("reference", at, f"{step.id}/add/{what}", words)
            return
        if what not in self.recipe.phases:
            words = f"step '{step.id}' adds phase '{what}', and there is no such phase"
            self.trouble("reference", at, f"{step.id}/add/{what}", words)
            return
        brought = tuple(key for key, charge in self.charges.items() if charge.phase == what and key not in self.kept)
        if not brought:
            named = any(charge.phase == what for charge in self.charges.values())
            why = "but other steps take every charge of it by name" if named else "and it has no charges"
            words = f"step '{step.id}' adds phase {what}, {why}"
            self.trouble("step-charges", at, f"{step.id}/add/{what}", words)
        self._put(step, vessel, brought, share)

    def _adjust(self, step: Step, vessel: str, key: str) -> None:
        if key in self.charges:
            self._put(step, vessel, (key,), _WHOLE)
            return
        words = f"step '{step.id}' adjusts with '{key}', and there is no such charge"
        if "/" not in key:
            words += " (a charge is written phase/ingredient)"
        at = (*step.path, "adjust", str(step.adjust.index(key)))
        self.trouble("reference", at, f"{step.id}/adjust/{key}", words)

    def _put(self, step: Step, vessel: str, keys: tuple[str, ...], share: Fraction) -> None:
        state = self.state
        content = state.vessels[vessel]
        for key in keys:
            content[key] = content[key] + share if key in content else share
            state.shares[key] = state.shares[key] + share if key in state.shares else share
            steps = state.places.setdefault(key, [])
            if not steps or steps[-1] is not step:
                steps.append(step)
        if keys:
            self.arrivals.append(Arrival(step, vessel, keys))

    def _warm(self, step: Step, vessel: str) -> None:
        span = step.span("temp")
        if span is not None:
            low, high = (None if end is None else end.base for end in (span.low, span.high))
            self.state.warmth[vessel] = Warmth(low, high, stated=True)
        elif vessel in self.state.warmth:
            self.state.warmth[vessel] = self.state.warmth[vessel].carried()

    def _expose(self, step: Step, vessel: str) -> None:
        content = self.state.vessels.get(vessel)
        if not content:
            return
        exposure = Exposure(step, step.shear or "none", vessel, self.state.warmth.get(vessel))
        exposures = self.state.exposures
        for key in content:
            if key in exposures:
                exposures[key].append(exposure)
            else:
                exposures[key] = [exposure]


_BRINGING = frozenset({"add", "adjust", "from"})


def run_process(recipe: Recipe) -> ProcessRun:
    """Walk the steps of a recipe."""
    walker = _Walker(recipe)
    for step in recipe.steps:
        walker.step(step)
    return walker.state


def _named_apart(recipe: Recipe) -> set[str]:
    """Name the charges that some step names itself, so that their phase no longer brings them."""
    named = {addition.what for step in recipe.steps for addition in step.add if "/" in addition.what}
    return named | {key for step in recipe.steps for key in step.adjust}


def _list(names: list[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
