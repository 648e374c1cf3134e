"""The pH is measured after the last addition that moves it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.chemistry.substance_class import classes_of
from formula_vcs.figures.free_acid import is_buffer
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import Charge
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule

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
