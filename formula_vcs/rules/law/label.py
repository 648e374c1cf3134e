"""The label: the order of its ingredients, its words, the allergens that it names."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Final

from formula_vcs.figures.ingredient_list import LabelLine
from formula_vcs.figures.interval import ranged_materials
from formula_vcs.law.compliance import in_force
from formula_vcs.law.labelling import allergens, ingredient_list
from formula_vcs.law.limit_use import PRACTICE_TOLERANCE, amount, percent
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.rules.law.allowed_substances import PackRule
from formula_vcs.rules.law.claim import place_of
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule

# --- The order of an ingredient list where materials state their composition as ranges


class LabelOrder(Rule):
    """The order of the ingredient list does not hang on where in its range a supplier's material lies.

    Why: the list is in falling order of weight (Regulation (EC) No 1223/2009, Article 19(1)(g); 21 CFR 701.3(a)). It
    is printed by the middle of each range. Where two names could change places inside the ranges, or one could come
    below or above 1 %, where the order becomes free, the supplier has to say more, or the artwork waits. Two names
    that one range moves together are taken as if they moved apart.

    So:
        [substances]
        "Coco-Betaine" = "29 to 31"          # in place of "25 to 35"
    """

    id = "label-order"
    severity = "note"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare each name's range with that of the next one, market by market."""
        found = case.finished
        names = ranged_materials(case.sums) if found is not None else ()
        if found is None or not names or case.sums.composition.is_open:
            return
        said: dict[tuple[str, str], list[str]] = {}
        for market in found.markets or ("EU",):
            lines = ingredient_list(case.sums, case.day, market)
            for both in (*_places(lines), *_crossing(lines, market)):
                said.setdefault(both, []).append(market)
        for (subject, doubt), markets in said.items():
            where = f" ({', '.join(markets)})" if len(found.markets) > 1 else ""
            text = f"ingredient list{where}: {doubt}; ask for narrower ranges of {', '.join(names)}"
            yield self.say(case, text, ("phase",), subject=subject)


def _places(lines: tuple[LabelLine, ...]) -> Iterator[tuple[str, str]]:
    ordered = [line for line in lines if line.part == "ordered"]
    for first, second in pairwise(ordered):
        if second.most > first.least and (first.ends is not None or second.ends is not None):
            words = f"'{first.inci}' ({_range(first)}) and '{second.inci}' ({_range(second)}) may change places"
            yield " / ".join(sorted((first.inci, second.inci))), words


def _crossing(lines: tuple[LabelLine, ...], market: str) -> Iterator[tuple[str, str]]:
    for line in lines:
        if line.ends is None or line.part not in ("ordered", "free"):
            continue
        below = line.least <= 1 if market == "US" else line.least < 1
        above = line.most > 1 if market == "US" else line.most >= 1
        if below and above:
            yield line.inci, f"'{line.inci}' ({_range(line)}) may lie on either side of 1 %"


def _range(line: LabelLine) -> str:
    if line.ends is None:
        return percent(line.pct)
    return f"{percent(line.least).removesuffix(' %')} to {percent(line.most)}"


# --- Words that the law wants on the label, and questions to a supplier that no percentage answers


class LabelWords(PackRule):
    """The label carries the warnings that a substance brings with it.

    Why: Article 19(1)(d) wants at least the precautions of the annexes on the label.  The wording here is
    paraphrased: take the exact words from the law before anything is printed.  Always a note.
    """

    id = "label-words"
    legal = False
    severity = "note"
    kind = "warning"
    lead = "the label has to say (in the words of the law)"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every warning whose substance is there in the amount that calls for it."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            row = hit.row
            if row.kind != self.kind:
                continue
            used = amount(found, hit.keys, row.basis).used
            least = row.threshold(found.product.contact if found.product else "")
            if used > (least or Fraction(0)):
                names = " + ".join(found.spelled(key) for key in hit.keys)
                words = f"{names}, {percent(used)}: {self.lead}: {row.words} ({row.citation})"
                yield self.of_row(case, row, words, found.main_charge(hit.keys), "/".join(hit.keys))


class AskSupplier(LabelWords):
    """What the law wants of a material that no percentage shows: purity, peroxide value, particle size.

    Why: the recipe cannot prove it; the supplier's papers have to.  Always a note.
    """

    id = "ask-supplier"
    kind = "ask"
    lead = "to be shown by the supplier's papers"


# --- The label can be worked out: allergens are known, and stay on their side of the threshold


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
