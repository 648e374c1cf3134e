"""What steps say: that there are any, what each does, to which vessel and charges, with which values; the pH, set
last.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.chemistry.substances import classes_of
from formula_vcs.figures.preservatives import is_buffer
from formula_vcs.model.facts import Unread
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_RANGES, Charge
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule
from formula_vcs.words.numbers import shown

# --- A recipe says how it is made


class NoProcess(Rule):
    """A recipe has steps.

    Why: order, shear and heat are half of a formula.  Without steps nothing can be said of them; a recipe from a
    book, or a simple dilution, may do without, so this is a note.
    """

    id = "no-process"
    severity = "note"

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for a step."""
        if not case.recipe.steps and case.recipe.charges:
            yield self.say(case, "no steps are written: nothing is checked of order, shear and heat", (), subject="")


# --- A step changes something


_DOES: Final = frozenset({"add", "from", "adjust", "measure", *STEP_RANGES})


class IdleStep(Rule):
    """A step adds, joins, moves, warms, measures or rests something.

    Why: a step that changes nothing is a line that somebody forgot to finish, or the left-over of an edit; a factory
    signs for it all the same.  Working in a vessel that holds nothing is `step-vessel`.
    """

    id = "idle-step"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for steps that do nothing."""
        for stage in case.sums.walk.stages:
            step = stage.step
            if not (step.facts.keys() & _DOES) and step.shear in (None, "none"):
                yield self.say(case, f"step '{step.id}' changes nothing", step.path, subject=step.id)


# --- The process ends in one vessel


class StepVessels(Rule):
    """Every step says which vessel it works in, where that is not clear, and the process ends in one vessel.

    Why: what is left in a second vessel never reaches the product.  `measure` and `rest` act on the one vessel that
    holds product; with several, `into` says which.  Heating a vessel that holds nothing is a warning, and so
    is content that comes back to a vessel which it has left: both may be meant.
    """

    id = "step-vessel"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say steps without a vessel, and vessels that are still full at the end."""
        walk = case.sums.walk
        for trouble in walk.troubles:
            if trouble.rule == self.id:
                yield self.say(case, trouble.message, trouble.at, subject=trouble.subject, severity=trouble.severity)
        full = walk.full()
        if len(full) > 1:
            last = case.recipe.steps[-1]
            names = ", ".join(f"'{name}'" for name in full)
            words = f"the process ends with product in {len(full)} vessels: {names}; a step has to join them ('from')"
            yield self.say(case, words, last.path, subject="end")


# --- The steps use every charge exactly once


class StepCharges(Rule):
    """The steps use every charge exactly once, its shares together making the whole.

    Why: a charge that no step adds is weighed and left standing; one that two steps add is in the product twice.
    A phase brings all its charges except those that a step names itself or keeps for adjusting.

    So:
        add = ["A", { what = "B/water", share = "80 %" }]
        add = [{ what = "B/water", share = "20 %" }]
    """

    id = "step-charges"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare what the steps add with what there is."""
        if not case.recipe.steps:
            return
        for trouble in case.sums.walk.troubles:
            if trouble.rule == self.id:
                yield self.say(case, trouble.message, trouble.at, subject=trouble.subject)
        if any(isinstance(step.facts.get(name), Unread) for step in case.recipe.steps for name in ("add", "adjust")):
            return  # nobody knows what that step adds
        for charge in case.recipe.charges:
            yield from self._of(case, charge)

    def _of(self, case: Case, charge: Charge) -> Iterator[Finding]:
        share = case.sums.walk.shares.get(charge.key, Fraction(0))
        if share == 1:
            return
        name = f"phase {charge.phase}, '{charge.ingredient}'"
        steps = ", ".join(f"'{step.id}'" for step in case.sums.walk.places.get(charge.key, ()))
        if not share:
            words = f"{name}: no step adds it"
        elif share.denominator == 1:
            words = f"{name}: it is added {share} times, by {steps}"
        else:
            words = f"{name}: the steps add {shown(share * 100, 0)} % of it in all, not 100 % ({steps})"
        yield self.say(case, words, charge.path)


# --- The numbers of a step are ones that a process can have


class _Limit(NamedTuple):
    """The bounds that are usual, in words too, and those outside of which no process of the trade can be."""

    low: Fraction
    high: Fraction
    words: str
    least: Fraction
    most: Fraction


_DAY: Final = 86_400
_ZERO: Final = Fraction(0)
# wide on purpose: what lies outside of the outer bounds is a slip of the pen.  Between the two are milling in liquid
# nitrogen, a cure for years, a maceration for a season
_LIMITS: Final = {
    "temp": {
        "temperature": _Limit(
            Fraction("223.15"), Fraction("523.15"), "-50 to 250 degC", Fraction("73.15"), Fraction("673.15")
        )
    },
    "speed": {
        "speed": _Limit(_ZERO, Fraction(1000), "0 to 60,000 rpm", _ZERO, Fraction(2500)),
        "velocity": _Limit(_ZERO, Fraction(100), "0 to 100 m/s", _ZERO, Fraction(150)),
    },
    "time": {"time": _Limit(_ZERO, Fraction(30 * _DAY), "0 to 30 days", _ZERO, Fraction(3650 * _DAY))},
    "rest": {"time": _Limit(_ZERO, Fraction(365 * _DAY), "0 to 365 days", _ZERO, Fraction(3650 * _DAY))},
}


class StepValues(Rule):
    """A step's temperature, speed and time are ones that a process of the trade can have.

    Why: 720 degC for 72 and 30000 rpm for 3000 are one key too many, and a sheet that says so stops the factory.
    Outside of what is usual is a warning: -50 to 250 degC, up to 60,000 rpm or 100 m/s, 30 days of work, a year of
    rest.  Far outside of it is a block: -200 to 400 degC, 150,000 rpm or 150 m/s, ten years.
    """

    id = "step-values"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every number of every step with what can be."""
        for step in case.recipe.steps:
            for name, limits in _LIMITS.items():
                span = step.facts.get(name)
                if not isinstance(span, Range):
                    continue
                limit = limits[span.dimension]
                if all(limit.low <= end.base <= limit.high for end in _ends(span)):
                    continue
                far = any(not limit.least <= end.base <= limit.most for end in _ends(span))
                how = "cannot be meant" if far else "is outside of what is usual"
                words = f"step '{step.id}', {name}: {span} {how} ({limit.words})"
                severity: Severity = "block" if far else "warn"
                yield self.say(case, words, (*step.path, name), severity=severity, on_value=True)


def _ends(span: Range) -> Iterator[Quantity]:
    yield from (end for end in (span.low, span.high) if end is not None)


# --- Where the spec has a pH, a step measures it


class PhStep(Rule):
    """A recipe whose spec has a pH has a step that measures it, and accepts nothing that the spec refuses.

    Why: pH is set, not found.  It decides whether a weak-acid preservative works, and a factory sheet without the
    step is a batch without the number.

    So:
        [[step]]
        id      = "set-pH"
        measure = "pH"
        accept  = "4.8 to 5.4"
        adjust  = ["A/citric-acid-50"]
    """

    id = "ph-step"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for the step, and compare its window with the spec's."""
        spec = case.recipe.spec.get("pH")
        if spec is None or not case.recipe.steps:
            return
        steps = [step for step in case.recipe.steps if step.measure == "pH"]
        if not steps:
            yield self.say(case, f"the spec wants pH {spec}, and no step measures the pH", ("spec", "pH"))
            return
        accepted = steps[-1].span("accept")
        if accepted is not None and _wider(accepted, spec):
            words = f"step '{steps[-1].id}' accepts pH {accepted}, the spec only {spec}"
            yield self.say(case, words, (*steps[-1].path, "accept"), on_value=True)


def _wider(accepted: Range, spec: Range) -> bool:
    low = spec.low is not None and (accepted.low is None or accepted.low.base < spec.low.base)
    high = spec.high is not None and (accepted.high is None or accepted.high.base > spec.high.base)
    return low or high


# --- The pH is measured after the last addition that moves it


SETS: Final = frozenset({"ph adjuster", "acid", "base", "alkali", "neutraliser", "neutralizer"})
MOVES: Final = frozenset({"buffer", "preservative", "surfactant"})
# The same by what a material is made of, where its functions do not say it.
ACID_OR_BASE: Final = frozenset({"acid", "base"})
MAY_MOVE: Final = frozenset({"carbonate", "weak-acid preservative", "anionic surfactant", "amphoteric surfactant"})
_MOST: Final = 10  # % of the material from which on it is one (a solution of citric acid, of caustic soda)
_SOME: Final = Fraction(1, 100)  # % of the product from which on an acid or a base that is in something else is said


class PhLast(Rule):
    """The pH is measured after the last addition that moves it.

    Why: a number that was right before the surfactant, the preservative salt or the last acid went in is not the
    batch's number.  An addition that sets the pH (kept `for = "pH"`, or an acid, a base, a pH adjuster) after the last
    measurement is a warning, as is one that may move it (a buffer, a preservative, a surfactant, a material whose own
    pH lies outside the spec): how much it moves is not known here.  A material is known by its functions, and by its
    substances: one that is a tenth of it or more, or an acid or a base that is 0.01 % of the product or more.  It is a
    block where the recipe itself says that the charge sets the pH (`for = "pH"`) that its spec asks for.  What a
    measuring step adjusts with is part of it.
    """

    id = "ph-last"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for additions behind the last step that measures the pH."""
        last = next((step for step in reversed(case.recipe.steps) if step.measure == "pH"), None)
        if last is None:
            return
        charges = {charge.key: charge for charge in case.recipe.charges}
        shares = {line.charge.key: line.pct for line in case.sums.composition.lines}
        for stage in case.sums.walk.stages:
            if stage.step.index <= last.index:
                continue
            for arrival in stage.arrivals:
                for key in () if arrival.source else arrival.keys:
                    how = self._moves(case, charges[key], shares.get(key, Fraction(0)))
                    if how:
                        words = (
                            f"step '{stage.step.id}' adds phase {charges[key].phase}, '{charges[key].ingredient}', "
                            f"which {how}, after the last measurement of the pH in step '{last.id}'"
                        )
                        at = (*stage.step.path, "adjust" if key in stage.step.adjust else "add")
                        meant = charges[key].more.get("for") == "pH" and "pH" in case.recipe.spec
                        severity: Severity = "block" if meant else "warn"
                        yield self.say(
                            case, words, at, subject=f"{key}/{stage.step.id}",
                            severity=severity, on_value=True,
                        )  # fmt: skip

    @staticmethod
    def _moves(case: Case, charge: Charge, pct: Fraction) -> str:
        """Say how a charge of some % of the product moves the pH: by its functions, its own pH, or its substances."""
        material = case.formula.ingredients.get(charge.ingredient)
        if charge.more.get("for") == "pH":
            return "sets the pH"
        if material is None:
            return ""
        held = case.compliance.content(charge.ingredient)
        most = frozenset[str]().union(*(classes_of(name).names for name, one in held.items() if one.pct >= _MOST))
        if SETS & material.called or ACID_OR_BASE & most:
            return "sets the pH"
        own = material.get("spec", "pH", kind=Range)
        spec = case.recipe.spec.get("pH")
        apart = own is not None and spec is not None and _apart(own, spec)
        buffer = any(is_buffer(name) for name, one in held.items() if one.pct >= _MOST)
        some = (name for name, one in held.items() if one.pct * pct / 100 >= _SOME)
        small = any(ACID_OR_BASE & classes_of(name).names for name in some)
        return "may move the pH" if apart or buffer or small or MOVES & material.called or MAY_MOVE & most else ""


def _apart(own: Range, spec: Range) -> bool:
    above = own.low is not None and spec.high is not None and own.low.base > spec.high.base
    below = own.high is not None and spec.low is not None and own.high.base < spec.low.base
    return above or below
