"""The label can be worked out: allergens are known, and stay on their side of the threshold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.law.compliance import in_force
from formula_vcs.law.labelling import allergens
from formula_vcs.law.limit_use import PRACTICE_TOLERANCE, amount, percent
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.rules.law.certificate import place_of
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case, Rule

SCENTS: Final = frozenset({"fragrance", "perfume", "parfum", "flavour", "flavor", "aroma"})
_MIXED: Final = frozenset({"parfum", "aroma", "fragrance", "flavor", "perfume"})


class AllergenData(Rule):
    """A fragrance or an essential oil under an EU market states its allergens.

    Why: the list of ingredients names 81 allergens from every source, and a perfume or an oil without `[allergens]`
    looks as if it had none.  A single substance that is an allergen itself needs no list.

    So:
        [allergens]                     # % of the material, from the supplier's allergen declaration
        "Linalool" = 31.0
    """

    id = "allergen-data"
    severity = "warn"
    source = "Regulation (EC) No 1223/2009, Article 19(1)(g), Annex III"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for scents without a declaration."""
        found = case.finished
        if found is None or "EU" not in found.markets:
            return
        for name, share in case.sums.leaves.items():
            material = case.formula.ingredients.get(name)
            if material is None or not share or not scented(material) or self._declared(material):
                continue
            at = place_of(case, material)
            words = f"'{name}' is a scent and states no [allergens]: the label cannot name what is in it"
            yield self.say(case, words, at, subject=name)

    @staticmethod
    def _declared(material: Ingredient) -> bool:
        if any(path[0] == "allergens" for path in material.facts):
            return True
        single = [key for key in material.holds if not key.endswith((" oil", " extract", " absolute", "/extract"))]
        return len(single) == len(material.holds) and not any(key in _MIXED for key in material.holds) and bool(single)


def scented(material: Ingredient) -> bool:
    """Say whether a material is a scent: by its functions, or because it is called one on a label."""
    return any(function.casefold() in SCENTS for function in material.functions) or any(
        inci_key(name) in _MIXED for name in material.substances
    )


class AllergenMargin(PackRule):
    """An allergen that is not named stays below its threshold at the worst weighing too.

    Why: the label is printed once, for all batches.  An allergen a hair below its threshold is above it in the
    batch in which the oil was weighed a little high.
    """

    id = "allergen-margin"
    legal = False
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the worst weighing of every allergen with its threshold."""
        found = case.finished
        if found is None:
            return
        for allergen in allergens(found, in_force(found, case.day)):
            amounts = amount(found, list(allergen.keys), "")
            worst = max(amounts.worst, amounts.adjusted)
            if not allergen.named and worst > allergen.threshold:
                known = max(amounts.stated, amounts.adjusted) > allergen.threshold
                words = (
                    f"{allergen.printed}: {percent(allergen.pct, allergen.threshold)} is not named, but the worst "
                    f"weighing comes to {percent(worst, allergen.threshold)}, above {percent(allergen.threshold)}"
                    f"{'' if known else f', inside the {PRACTICE_TOLERANCE}'}"
                )
                at = found.main_charge(list(allergen.keys))
                severity: Severity = "warn" if known else "note"
                yield self.of_row(case, allergen.row, words, at, allergen.printed, severity=severity)
