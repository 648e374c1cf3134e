"""A product that things grow in is preserved, and what preserves it works there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.chemistry.tables import load
from formula_vcs.figures.interval import at_range_ends, ranged_materials
from formula_vcs.figures.preservatives import (
    CAN_BE,
    System,
    covered_by,
    free_in_water,
    needs_preserving,
    preserving,
    systems,
    uncovered,
    weakenings,
    works_at,
)
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.product import has_two_waters
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule

_MOST_NAMED: Final = 3


def _judged(case: Case) -> bool:
    return not case.recipe.is_premix and not case.sums.composition.is_open and bool(case.sums.substances.get("aqua"))


def highest_pH(recipe: Recipe) -> float | None:
    """The highest pH that the spec allows; None where it has none, or none that a pH can be."""
    spec = recipe.spec.get("pH")
    top = None if spec is None or spec.high is None else float(spec.high.base)
    return top if top is not None and CAN_BE[0] <= top <= CAN_BE[1] else None


def _at(case: Case, system: System) -> tuple[str, ...]:
    keys = {inci_key(name) for name in system.names}

    def holds(material: Ingredient) -> bool:
        return bool(material.inci & keys) or material.id in system.names

    return case.place_of(holds)


class Preserved(Rule):
    """A product with water in it that meets no criterion of low risk has something that preserves it.

    Why: without it germs grow, in the drum or in the bathroom.  Below a water activity of 0.75, at pH 3 or 10, above
    20 % alcohol, without water and the like (ISO 29621) it takes none; all else needs a preservative of Annex V, or one
    of the systems sold without an entry there (diols, caprylyl glycol, glyceryl caprylate, levulinic with anisic acid
    ...), or a material whose file says that its function is "preservative".  What only boosts (ethylhexylglycerin)
    counts for nothing alone.  A warning: a hurdle that the tool does not know may be there.  A review blocks where a
    change took the last preservative away.  Whether a product is preserved is shown by a challenge test (ISO 11930).

    Not so: water 90 %, glycerin 5 %, nothing else.
    So: phenoxyethanol 0.9 % with ethylhexylglycerin 0.1 %; or glycerin up to a water activity below 0.75.
    """

    id = "preserved"
    severity = "warn"
    source = "ISO 29621 (low risk), Regulation (EC) No 1223/2009 Annex V"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for a system, and only where there is none for what makes one unnecessary."""
        if not _judged(case):
            return
        ends = at_range_ends(case.sums)
        worst = next((sums for sums in ends if not preserving(sums) and needs_preserving(sums, case.day)), None)
        if worst is None:
            return
        little = systems(worst)
        words = "water in which germs grow, no criterion of low risk is met, and nothing in it preserves"
        if worst is not case.sums:
            words = f"with the stated range of {', '.join(ranged_materials(case.sums))} at its worse end {words}"
        if little:
            words += " enough: " + ", ".join(_too_little(system) for system in little)
        if case.sums.unnamed:
            words += f"; not known: what is in {', '.join(case.sums.unnamed)}"
            yield self.say(case, words, ("title",), subject="none", severity="note")
            return
        yield self.say(case, f"{words}; a challenge test decides (ISO 11930)", ("title",), subject="none")


def _too_little(system: System) -> str:
    if system.enough:
        return f"{system.title} counts for nothing without a partner"
    usual = "" if system.row is None else f", usually {system.row['usual'][0]:g} to {system.row['usual'][1]:g} %"
    return f"{float(system.pct):.3g} % {system.title}{usual}"


class AcidRange(Rule):
    """A recipe that a weak acid preserves states the pH that it may go up to.

    Why: benzoates, sorbates, levulinates, anisates, dehydroacetates and salicylates preserve as the free acid alone,
    and how much of them is free the pH decides: without a range in the spec, nothing holds the product where they work.

    Not so: sodium benzoate 0.5 %, and no pH in [spec].
    So:
        [spec]
        pH = "4.5 to 5.0"
    """

    id = "acid-range"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for weak acids where the spec has no upper end of a pH."""
        if not _judged(case) or highest_pH(case.recipe) is not None:
            return
        acids = [system for system in systems(case.sums) if system.row is not None and "acid" in system.row]
        if not acids:
            return
        names = " and ".join(system.title for system in acids)
        stated = case.recipe.spec.get("pH")
        words = (
            f"{names}: only the free acid preserves, and the spec states "
            f"{'no pH' if stated is None else f'pH {stated}, which has no upper end that a pH can have'}"
        )
        yield self.say(case, words, ("spec", "pH") if stated is not None else ("spec",), subject="range")


class LittleFreeAcid(Rule):
    """Enough of a weak-acid preservative is free at the highest pH of the spec, where nothing else does its work.

    Why: inside its window an acid may still be nearly all salt: of 0.45 % sodium benzoate 0.15 % of the water is free
    acid at pH 4.4, and 0.048 % at pH 5.1.  At the top of the spec's range at least 0.05 % of benzoic and sorbic acid,
    0.03 % of dehydroacetic and 0.1 % of levulinic acid are wanted free in the water phase.  A warning where nothing
    else preserves, a note where it alone covers some germs.  The amounts are common practice.
    """

    id = "free-acid-left"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the free acid at the top of the spec's pH with what is wanted."""
        top = highest_pH(case.recipe)
        if top is None or not _judged(case) or has_two_waters(case.recipe.get("emulsion")):
            return
        there = [system for system in systems(case.sums) if system.enough and not system.booster]
        short = {system.title: free for system in there if (free := _short(case, system, top)) is not None}
        others = [system for system in there if system.title not in short and works_at(system, top)]
        for system in there:
            alone = covered_by(system) - {germ for other in others for germ in covered_by(other)}
            if system.row is None or system.title not in short or not alone or _beyond(system, top):
                continue
            words = (
                f"at pH {top:g}, the top of the spec, {short[system.title]:.3f} % of the water phase is free "
                f"{system.title}, and {system.row['least_free']:g} % is wanted"
            )
            if others:
                words += f"; it alone is there against {' and '.join(sorted(alone))}"
            severity: Severity = "note" if others else "warn"
            yield self.say(case, words, ("spec", "pH"), subject=system.title, severity=severity, on_value=True)


def _short(case: Case, system: System, top: float) -> float | None:
    """The free acid in % of the water phase where it is less than wanted; None where it is enough.

    Of what is stated as a range the worse end counts.
    """
    least = (system.row or {}).get("least_free")
    ends = [free_in_water(sums, system, top) for sums in at_range_ends(case.sums)] if least is not None else []
    free = min((one for one in ends if one is not None), default=None)
    return free if least is not None and free is not None and free < least else None


def _beyond(system: System, top: float) -> bool:
    """Say whether a weak acid is beyond its window: 'preservative-window' says that already."""
    window = load("acids")["acids"][system.row["acid"]].get("window") if system.row is not None else None
    return window is not None and top >= window["high"]


class PreservativeRange(Rule):
    """A preservative that is no weak acid works at all of the spec's pH.

    Why: bronopol decomposes above pH 8, isothiazolinones above 8, chlorhexidine falls out there, parabens hydrolyse.
    Ranges are what is said in the trade: a note.  A weak acid's window is the rule 'preservative-window'.
    """

    id = "preservative-range"
    severity = "note"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare both ends of the spec's pH with what each works at."""
        spec = case.recipe.spec.get("pH")
        if spec is None or not _judged(case):
            return
        ends = [float(end.base) for end in (spec.low, spec.high) if end is not None]
        for system in systems(case.sums):
            if system.row is None or "acid" in system.row or all(works_at(system, end) for end in ends):
                continue
            low, high = system.row["ph"]
            words = f"{system.title} is said to work from pH {low:g} to {high:g}, and the spec allows pH {spec}"
            yield self.say(case, words, ("spec", "pH"), subject=system.title, on_value=True)


class PreservativePartner(Rule):
    """What preserves a product covers bacteria, yeasts and moulds together.

    Why: most preservatives leave a gap: phenoxyethanol moulds, sorbic acid bacteria, IPBC bacteria.  At the highest pH
    of the spec every kind of germ wants at least one preservative that is said to work against it.  What a booster adds
    counts beside a preservative.  Cover is what is said in the trade: a note; a challenge test (ISO 11930) decides.

    Not so: 0.9 % phenoxyethanol alone (moulds).
    So: with 0.3 % potassium sorbate at pH 5, or with caprylhydroxamic acid.
    """

    id = "preservative-partner"
    severity = "note"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Name the germs that nothing in the recipe is said to work against."""
        if not _judged(case) or not preserving(case.sums) or not needs_preserving(case.sums, case.day):
            return
        there = preserving(case.sums)
        gaps = uncovered(case.sums, highest_pH(case.recipe))
        if not gaps:
            return
        needs = [
            f"{system.title} usually takes {system.row['needs']}"
            for system in there
            if system.row and system.row["needs"]
        ]
        words = (
            f"nothing in it is said to work against {' and '.join(gaps)}; it has {', '.join(s.title for s in there)}"
        )
        words += f" ({'; '.join(needs)})" if needs else ""
        yield self.say(case, words, _at(case, there[0]), subject="cover")


class PreservativeWeakened(Rule):
    """Nothing in the product takes a preservative's strength.

    Why: a preservative works as what is free in the water.  Micelles of ethoxylates take parabens, phenoxyethanol and
    quaternary biocides up, oils draw parabens out of the water, proteins, clays and cellulose ethers bind them.  Where
    a published measurement stands behind it a warning, else a note; how much is left a challenge test shows.  What
    falls out or reacts is the rule 'incompatible'.

    Not so: 0.2 % methylparaben with 8 % polysorbate 80.
    So: 0.9 % phenoxyethanol with 2 % of it.
    """

    id = "preservative-weakened"
    severity = "warn"
    source = "the row of chemistry/data/preservatives.toml that the finding names"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for every weakening that the table knows; of several rows for one cause the worst is said."""
        if not _judged(case):
            return
        worst = sorted(weakenings(case.sums), key=lambda one: one.row["severity"] == "note")
        if not worst or not needs_preserving(case.sums, case.day):
            return
        said: set[tuple[str, tuple[str, ...]]] = set()
        for found in worst:
            if (found.system.title, found.names) in said:
                continue
            said.add((found.system.title, found.names))
            words = (
                f"{found.system.title} ({float(found.system.pct):.3g} %) beside {float(found.pct):.3g} % "
                f"{_some(found.names)}: {found.row['what']}"
            )
            at, subject = _at(case, found.system), f"{found.system.title}/{found.row['what']}"
            finding = self.say(case, words, at, subject=subject, severity=found.row["severity"])
            yield replace(finding, source=found.row["source"])


def _some(names: tuple[str, ...]) -> str:
    return ", ".join(names[:_MOST_NAMED]) + (
        f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    )
