"""The spec's pH is one that the acids and bases of the recipe can give."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.ph import estimate, settled
from formula_vcs.figures.ranged import at_range_ends
from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


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
