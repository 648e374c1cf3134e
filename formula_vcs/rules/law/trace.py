"""Traces of what is prohibited: allowed where nobody put them in, nobody can keep them out, and they do no harm."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.law.compliance import ApplicableRow, Compliance, in_force, substances_of
from formula_vcs.law.limit_use import percent
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import LawRow
from formula_vcs.rules.law.certificate import place_of
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.law.prohibited import beyond_trace
from formula_vcs.rules.rule import Case
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import shown

_CONTENT: Final = late_pattern(r"maximum nitrosamine content: (\d+) [\u00b5\u03bc]g/kg", re.IGNORECASE)
_NITROSAMINE: Final = late_pattern(r"n-nitroso|ndela\b|nitrosamine")
_EU: Final = "Regulation (EC) No 1223/2009, Article 17"


class TraceGrounds(PackRule):
    """What is prohibited and declared as an impurity has grounds to be there.

    Why: Article 17 of Regulation (EC) No 1223/2009 permits the non-intended presence of a small quantity of a
    prohibited substance that comes from impurities, from making, storing or the pack, is technically unavoidable in
    good manufacturing practice, and leaves the product safe.  Nobody sees that from a recipe: the grounds are for the
    product file, and accepting the finding says where they are.  Where the law gives a trace a limit, what is above
    it, from all materials together, is `prohibited`; limits of other rows hold for impurities as for anything else.

    So:
        [substances]
        "PEG-40 Hydrogenated Castor Oil" = 99.9995
        "Dioxane" = { pct = 0.0005, cas = "123-91-1", role = "impurity" }
    """

    id = "trace"
    legal = False
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every prohibited substance that is there as an impurity, inside what the law states."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            if hit.row.kind == "prohibited" and hit.row.severity == "block":
                yield from self._of(case, found, hit)

    def _of(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row = hit.row
        for key in () if beyond_trace(found, hit) else hit.keys:
            if key not in found.traces:
                continue
            used = found.totals[key].most
            limit = f", which allows traces up to {percent(row.at_most, used)}" if row.at_most is not None else ""
            ground = f" ({_EU})" if row.pack.startswith("eu-") else ""
            words = (
                f"{found.spelled(key)} ({percent(used)}, a trace): prohibited by {row.citation}{limit}; write down why "
                f"it cannot be avoided and that the product is safe{ground}"
            )
            yield self.of_row(case, row, words, found.main_charge([key]), key)


class NitrosamineContent(PackRule):
    """A material of the amines of Annex III holds no more nitrosamines than its entry lets it.

    Why: entries 60 to 62 of Annex III and several hair dyes allow 50 micrograms of nitrosamines in a kilogram of the
    raw material, whatever is in the product.  What a supplier's sheet states is declared as an impurity, and all
    nitrosamines of one material count together.

    Not so:
        [substances]
        "Triethanolamine" = 99.99999
        "N-Nitrosodiethanolamine" = { pct = 0.00001, role = "impurity" }    # 100 micrograms a kilogram
    """

    id = "nitrosamine-content"

    def check(self, case: Case) -> Iterator[Finding]:
        """Add up the nitrosamines of each material that a limit of them is about."""
        found = case.finished
        if found is None:
            return
        limits = [(hit, limit) for hit in in_force(found, case.day) if (limit := _nitrosamines(hit.row)) is not None]
        for name in case.sums.leaves if limits else ():
            material = case.formula.ingredients.get(name)
            if material is None:
                continue
            held = substances_of(material)
            named = {key: one for key, one in held.items() if _NITROSAMINE.match(key)}
            content = sum((one.most for one in named.values()), Fraction(0))
            broken = (
                (hit.row, most) for hit, most in limits if content > most and not held.keys().isdisjoint(hit.keys)
            )
            for row, most in list(broken)[:1]:
                spelled = ", ".join(one.spelled for one in named.values())
                words = (
                    f"'{name}' holds {_micrograms(content)} micrograms of nitrosamines a kilogram ({spelled}); "
                    f"{_micrograms(most)} is what {row.citation} lets the raw material hold"
                )
                yield self.of_row(case, row, words, place_of(case, material), name)


def _micrograms(pct: Fraction) -> str:
    """Write an amount in % as micrograms a kilogram."""
    return shown(pct * 10_000_000, 0, 1)


def _nitrosamines(row: LawRow) -> Fraction | None:
    """Give how much of nitrosamines a row lets a material hold, in % of it; None where it is about something else."""
    match = _CONTENT.search(row.words) if row.kind == "ask" else None
    return Fraction(match[1]) / 10_000_000 if match is not None else None
