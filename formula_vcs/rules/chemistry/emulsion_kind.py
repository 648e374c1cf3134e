"""What a recipe states of its chemistry, against its substances: the kind of emulsion, the pH, the roles."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.interval import at_range_ends
from formula_vcs.figures.ph import estimate, settled
from formula_vcs.figures.substance_parts import WET, Parts, parts_of, percent, total
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.pair import class_tag
from formula_vcs.model.product import DOUBLE, holds_water_in_oil
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule

# --- An emulsion that states its kind has what that kind takes


_LEAST: Final = Fraction(1, 2)  # % of W/O emulsifiers that an emulsion of water in oil is made with at least
_SALT: Final = Fraction(3, 10)  # % of an electrolyte, as the role of the electrolyte has it (chemistry/data/roles.toml)
_W_O: Final = "W/O emulsifier"
_OTHERS: Final = ("non-ionic surfactant", "anionic surfactant", "cationic surfactant", "amphoteric surfactant")
_EMULSIFIERS: Final = ("emulsifier", "co-emulsifier")


class EmulsionKind(Rule):
    """What a recipe states of its kind of emulsion fits its form, its emulsifiers and its salts.

    Why: which phase is outside follows from the emulsifier: the phase that it dissolves in better (Bancroft, J. Phys.
    Chem. 17 (1913) 501; from memory). Water in oil takes an emulsifier for it, 0.5 % or more, and as a rule an
    electrolyte in the water, 0.3 % or more, without which the droplets grow. A double emulsion takes both kinds of
    emulsifier, and what preserves its outer water does not reach the inner. All of it is common practice, and only
    emulsifiers that the tables know are counted: so a warning at most.

    So:
        form     = "emulsion"
        emulsion = "W/O"              # or O/W, W/Si, W/O/W, O/W/O
    """

    id = "emulsion-kind"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Hold the kind against form, water, emulsifiers and salts."""
        kind, form = case.recipe.get("emulsion"), case.recipe.get("form")
        if kind is None:
            return
        if form is not None and form != "emulsion":
            words = f"it is a {kind} emulsion, and its form is '{form}'"
            yield self.say(case, words, ("emulsion",), subject="form", on_value=True)
            return
        if case.sums.composition.is_open:
            return
        parts = parts_of(case.sums)
        if parts.water < WET:
            words = f"a {kind} emulsion, and {percent(parts.water)} of water is in it: there is no water phase"
            yield self.say(case, words, ("emulsion",), subject="water", on_value=True)
            return
        yield from self._emulsifiers(case, kind, parts)
        if holds_water_in_oil(kind):
            yield from self._salt(case, kind, parts)
        if kind in DOUBLE:
            words = f"{kind}: what preserves one of the two phases of a kind does not reach the other; test it whole"
            yield self.say(case, words, ("emulsion",), subject="preservation", severity="note")

    def _emulsifiers(self, case: Case, kind: str, parts: Parts) -> Iterator[Finding]:
        of_oil = parts.called([class_tag(_W_O)])
        there = total(of_oil)
        known = {part.grain.material for part in of_oil}
        by_name = [f"function:{name}" for name in _EMULSIFIERS]
        others = [
            part
            for part in parts.called([*map(class_tag, _OTHERS), *by_name])
            if part.grain.material not in known and part not in of_oil
        ]
        if holds_water_in_oil(kind) and there < _LEAST:
            have = f"only {percent(there)} of W/O emulsifiers" if there else "no W/O emulsifier"
            words = f"a {kind} emulsion, and {have} that the tables know"
            unsure = ' (of a material the class can be stated: class = ["W/O emulsifier"])' if others else ""
            severity: Severity = "note" if others and not there else "warn"
            yield self.say(case, words + unsure, ("emulsion",), subject="W/O emulsifier", severity=severity)
        if kind not in ("W/O", "W/Si") and there >= _LEAST and not others:
            words = f"a {kind} emulsion, and its only emulsifiers are of W/O ({percent(there)}): oil would be outside"
            yield self.say(case, words, ("emulsion",), subject="O/W emulsifier")

    def _salt(self, case: Case, kind: str, parts: Parts) -> Iterator[Finding]:
        salt = total(parts.called([class_tag("electrolyte")]))
        if salt < _SALT:
            words = (
                f"a {kind} emulsion with {percent(salt) if salt else 'no'} electrolyte in its water: droplets of water "
                "in oil grow without 0.3 % or more, of magnesium sulfate or sodium chloride say"
            )
            yield self.say(case, words, ("emulsion",), subject="electrolyte", severity="note")


# --- The spec's pH is one that the acids and bases of the recipe can give


class PhAgrees(Rule):
    """The pH that the acids, bases and salts of a recipe come to can be the pH of its spec.

    Why: a pH stands in the spec, the preservative and the claims rest on it, and then a citric acid is halved or a
    neutraliser swapped.  Where every dissolved substance is known the pH is worked out, with the range that it may lie
    in (25 degC); a spec wholly outside that range is a warning.  Where a substance is not known nothing is said here:
    ``show`` names it.  An estimate replaces no measurement.

    Not so: 0.5 % sodium lactate with 0.02 % lactic acid and a spec of pH 4.2 to 4.6 (it comes to 5.1).
    So: with 0.1 % lactic acid (4.4), and the step that measures the pH and adjusts it.
    """

    id = "ph-agrees"
    severity = "warn"
    source = f"charge balance, Davies' activities; {COMMON_PRACTICE} for what is neutral"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the estimate's range with the spec's."""
        spec = case.recipe.spec.get("pH")
        if spec is None or case.recipe.is_premix or case.sums.composition.is_open:
            return
        low, high = (None if end is None else float(end.base) for end in (spec.low, spec.high))
        at = settled(case.sums).at
        if at is None or ((low is None or low <= at.pH) and (high is None or at.pH <= high)):
            return
        found = estimate(case.sums)
        # what is stated as a range widens what the pH may be
        ends = [estimate(sums) for sums in at_range_ends(case.sums)]
        if found.pH is None or any(
            one.pH is None or ((low is None or one.high >= low) and (high is None or one.low <= high)) for one in ends
        ):
            return
        words = (
            f"the spec wants pH {spec}; the acids and bases of the recipe come to {found.pH:.1f} ({found.low:.1f} to "
            f"{found.high:.1f}; {found.basis[0]})"
        )
        adjusters = sorted({where for step in case.recipe.steps for where in step.adjust})
        if adjusters:
            words += f": the amount of {', '.join(adjusters)} in the recipe is not the one that sets the pH"
        yield self.say(case, words, ("spec", "pH"), on_value=True)


# --- A role that a change left empty


class RoleEmpty(Rule):
    """A change does not take away the only one that did something in the product.

    Why: the only chelator, antioxidant, buffer, photostabiliser, suspending agent, or the electrolyte of a W/O emulsion
    goes, the recipe adds up and nothing breaks a limit: the trouble comes months later, in the shop.  Said by a review
    that compares two versions, with what it was there for and the change that did it: a warning where what it protected
    is still in the product, else a note; a note too where less than half of it is left.  What takes its place in the
    same change counts.  Who holds which role is a table (`chemistry/data/roles.toml`) of common practice.

    So:
        functions = ["chelator"]
    """

    id = "role-empty"
    severity = "warn"
    source = COMMON_PRACTICE
    judges = "review"
