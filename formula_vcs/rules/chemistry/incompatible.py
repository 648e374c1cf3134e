"""What does not go together: pairs of substances, classes and functions, and the conditions that make them a pair."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.chemistry.pair_rows import house_pairs, in_force, shipped
from formula_vcs.figures.substance_parts import Part, percent
from formula_vcs.law.packs_in_force import unknown_product
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.pair import Pair
from formula_vcs.model.values import replace
from formula_vcs.model.workspace import Workspace
from formula_vcs.rules.chemistry.pair_judge import PairFound, PairJudge
from formula_vcs.rules.rule import FORMAT, Case, Rule
from formula_vcs.toml.takers import nearest

MOST_NAMED: Final = 3


class Incompatible(Rule):
    """What is in a product goes together.

    Why: a cationic in an anionic wash, salt in a carbomer gel, fluoride on a calcium abrasive add up to 100 and make no
    product.  The pairs are common knowledge of the trade and data (79 rows ship), by substance, by class (charge, salt,
    preservative ...) or by function, each with its condition and its source; the substances' classes are data too, and
    a material states its own with `class = ["..."]`.  Warnings and notes: whether a pair fails in this product, a test
    decides.  A note where the class is known by the name alone, or where only an end of the pH range is reached.

    A house adds rows in rules/*.toml, and switches one off with its reason; see the manual's page on pairs.

    So:
        [[pair]]
        id     = "house-thymol-peg"
        one    = { substances = ["Thymol"], above = "0.1 %" }
        other  = { class = ["ethoxylate"], above = "3 %" }
        what   = "the thymol is bound, and the smell gone"
        source = "house standard HS-31"

        [[pair]]
        id  = "carbomer-salt"
        off = "our grade holds 1 % of salt, trial LT-114"
    """

    id = "incompatible"
    severity = "warn"
    source = "the row of the pairs that the finding names"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for every pair, and say which could not be judged."""
        if case.sums.composition.is_open or not case.recipe.charges:
            return
        judge = PairJudge(case)
        unjudged: list[str] = []
        for row in in_force(case.formula.workspace):
            found = judge.found(row)
            if isinstance(found, PairFound):
                yield self._said(case, found)
            elif found:
                unjudged.append(row.pair.id)
        if unjudged:
            words = f"no pH is stated in [spec] or accepted in a step, so it is not judged: {', '.join(unjudged)}"
            yield self.say(case, words, ("spec",), subject="no-pH", severity="note")

    def _said(self, case: Case, found: PairFound) -> Finding:
        pair = found.pair
        lead = _names(found.one)
        if found.other:
            lead = f"{lead} does not go with {_names(found.other)}"
        conditions = " ".join(found.conditions)
        doubts = f" ({'; '.join(found.doubts)})" if found.doubts else ""
        instead = f"; instead: {pair.instead}" if pair.instead else ""
        words = f"{lead}{' ' if conditions else ''}{conditions}{doubts}: {pair.what}{instead}"
        finding = self.say(case, words, place(case, found.at), subject=pair.id, severity=found.severity)
        return replace(finding, source=pair.proof)


def place(case: Case, part: Part) -> Path:
    """The path of the charge that a part is of."""
    return next((charge.path for charge in case.recipe.charges if charge.key == part.charge), ())


def _names(parts: list[Part]) -> str:
    """Name parts with what they are together: ``Carbomer ('carbomer-980', 0.25 %)``, the largest first."""
    amounts: dict[tuple[str, str], Fraction] = {}
    spelled: dict[str, str] = {}
    for part in parts:
        key = (part.grain.key, part.grain.material)
        amounts[key] = amounts.get(key, Fraction(0)) + part.pct
        spelled[part.grain.key] = part.grain.spelled
    ranked = sorted(amounts.items(), key=lambda item: -item[1])
    named = [f"{spelled[key]} ('{material}', {percent(pct)})" for (key, material), pct in ranked[:MOST_NAMED]]
    more = f" and {len(ranked) - MOST_NAMED} more" if len(ranked) > MOST_NAMED else ""
    return ", ".join(named) + more


def judge_house_pairs(workspace: Workspace) -> Iterator[Finding]:
    """Say every row of the house that takes the id of a shipped pair, or switches off one that there is not."""
    known = {pair.id for pair in shipped()}
    own = house_pairs(workspace)
    added = {pair.id for pair in own if not pair.off}
    for pair in own:
        for name, scope in (("where", pair.where), ("unless", pair.unless)):
            strange = unknown_product(scope)
            if strange:
                yield _of_house(pair, f"pair '{pair.id}': {strange}", name)
        if pair.off and pair.id not in known | added:
            words = f"no pair is called '{pair.id}', so nothing is switched off{nearest(pair.id, sorted(known))}"
        elif not pair.off and pair.id in known:
            words = (
                f"a pair that ships is called '{pair.id}'; give yours an id of its own, and switch that one off where "
                "it does not hold"
            )
        else:
            continue
        yield _of_house(pair, words)


def _of_house(pair: Pair, words: str, key: str = "") -> Finding:
    at = ("pair", pair.id, key) if key else ("pair", pair.id)
    return Finding("house-rule", "block", words, pair.file, at=at, source=FORMAT, subject="/".join(at))
