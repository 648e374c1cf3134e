"""What a grade may and must live through in shear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from formula_vcs.figures.walk import Exposure
from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import SHEAR_MODES, Charge
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


@dataclass(frozen=True, slots=True)
class Limit:
    """A shear limit of a material in a charge: the charge's own, or one inside its premix."""

    material: str
    mode: str
    inside: str = ""


def _rank(mode: str) -> int:
    return SHEAR_MODES.index(mode)


def limits(case: Case, charge: Charge, name: str) -> list[Limit]:
    """Give the limits that a charge brings.  A premix that states none brings those of what is in it."""
    found = case.formula.ingredients.get(charge.ingredient)
    if found is None:
        return []
    own = found.handling(name)
    if own is not None:
        return [Limit(charge.ingredient, own)]
    inner = case.formula.premix_of(charge.ingredient)
    if inner is None or charge.ingredient not in case.formula.order:
        return []
    if name == "shear_at_least" and inner.steps:
        return []  # judged where the premix is made
    return [
        Limit(material, mode, f" in premix '{charge.ingredient}'")
        for material, mode in _inside(case, charge.ingredient, name).items()
    ]


def _inside(case: Case, premix: str, name: str) -> dict[str, str]:
    found: dict[str, str] = {}
    seen: set[str] = set()
    waiting = [premix]
    while waiting:
        recipe = case.formula.premix_of(waiting.pop())
        for inner in recipe.uses if recipe is not None else ():
            material = case.formula.ingredients.get(inner)
            if material is None or inner in seen:
                continue
            seen.add(inner)
            mode = material.handling(name)
            if mode is not None:
                found[inner] = mode
            elif material.recipe is not None:
                waiting.append(inner)
    return found


class ShearAtMost(Rule):
    """No charge is in a vessel at a shear mode above its ingredient's `shear_at_most`.

    Why: two grades of one INCI name can do opposite jobs.  A polishing silica, a bead, a flake or a crosslinked
    polymer is milled or torn by a rotor-stator, and nothing in the percentages shows it.  A charge is exposed to
    every step that its vessel is worked in after it went in, not only to the step that adds it.

    Not so:
        add = ["B/silica-polishing"] before a step with shear = "high" in the same vessel

    So:
        add it after the last step of high shear, and fold or stir it in
    """

    id = "shear-at-most"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every step that a charge was there for with its limit."""
        for charge in case.recipe.charges:
            for limit in limits(case, charge, "shear_at_most"):
                for exposure in case.sums.walk.exposures.get(charge.key, ()):
                    if _rank(exposure.shear) > _rank(limit.mode):
                        yield self._over(case, charge, limit, exposure)

    def _over(self, case: Case, charge: Charge, limit: Limit, exposure: Exposure) -> Finding:
        step = exposure.step
        numbers = ", ".join(str(span) for span in (step.span("speed"), step.span("time")) if span is not None)
        words = (
            f"step '{step.id}' works at {exposure.shear} shear{f' ({numbers})' if numbers else ''} with "
            f"phase {charge.phase}, '{charge.ingredient}' in the vessel: "
            f"'{limit.material}'{limit.inside} must see {limit.mode} shear at most"
        )
        at = (*step.path, "shear")
        return self.say(case, words, at, subject=f"{charge.key}/{limit.material}/{step.id}", on_value=True)


class ShearAtLeast(Rule):
    """No charge that needs `shear_at_least` leaves the process without having seen it.

    Why: a thickening silica, a clay, a colloidal cellulose must be torn open to build its network.  Stirred in, it
    is an expensive filler, and the batch comes out thin.
    """

    id = "shear-at-least"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the highest shear that a charge has seen with what it needs."""
        if not case.recipe.steps:
            return
        for charge in case.recipe.charges:
            for limit in limits(case, charge, "shear_at_least"):
                seen = case.sums.walk.exposures.get(charge.key, [])
                best = max((exposure.shear for exposure in seen), key=_rank, default="none")
                if seen and _rank(best) < _rank(limit.mode):
                    words = (
                        f"phase {charge.phase}, '{charge.ingredient}': '{limit.material}'{limit.inside} needs "
                        f"{limit.mode} shear to do its work, and the most it sees is {best}"
                    )
                    yield self.say(case, words, charge.path, subject=f"{charge.key}/{limit.material}")
