"""What is there without being meant to be used: traces of what is prohibited, nitrosamines, synthetic polymer
microparticles.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.law.compliance import ApplicableRow, Compliance, in_force, substances_of
from formula_vcs.law.limit_use import percent
from formula_vcs.law.microparticles import LEAST, RELEASED, PolymerPart, polymers
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.law_row import PARTICLES, LawRow
from formula_vcs.rules.law.allowed_substances import PackRule, beyond_trace
from formula_vcs.rules.law.claim import place_of
from formula_vcs.rules.rule import Case
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import shown

# --- Traces of what is prohibited: allowed where nobody put them in, nobody can keep them out, and they do no harm


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
    """How much of nitrosamines a row lets a material hold, in % of it; None where it is about something else."""
    match = _CONTENT.search(row.words) if row.kind == "ask" else None
    return Fraction(match[1]) / 10_000_000 if match is not None else None


# --- Synthetic polymer microparticles in a product, and the days from which they are not allowed any more


_MOST_NAMED: Final = 4


class Microplastics(PackRule):
    """No solid particles of a synthetic polymer are in what may not hold them any more.

    Why: Regulation (EU) 2023/2055 forbids 0.01 % and more of them, with a day for each kind of product: beads that
    scrub since 17 October 2023, rinse-off 2027, leave-on and encapsulated scents 2029, make-up, lips and nails 2035,
    with words on the label of these from 2031.  A block where the file of a material says that it is one, a warning
    where the file says nothing; before the day a note, and `check --horizon` names the day.  What is natural,
    degradable, soluble above 2 g/L or free of carbon is none; who has shown that stands in its `source`.

    So:
        [polymer]                           # in ingredients/nylon-powder.toml
        of        = "Nylon-12"
        particles = true
        size      = "5 to 12 um"
        source    = "supplier's statement, 2026-03"
    """

    id = "microplastics"

    def check(self, case: Case) -> Iterator[Finding]:
        """Hold the polymers of a product against the rows in force, and against those to come."""
        found = case.finished
        if found is None:
            return
        rows = [hit.row for hit in found.hits if hit.row.kind == PARTICLES]
        parts = polymers(found) if rows else ()
        for row in rows if parts else ():
            mine = [part for part in parts if part.sure is not False and part.for_what == row.basis]
            if sum((part.pct for part in mine), Fraction(0)) >= LEAST:
                yield from self._against(case, found, row, mine)

    def _against(self, case: Case, found: Compliance, row: LawRow, parts: Sequence[PolymerPart]) -> Iterator[Finding]:
        sure = [part for part in parts if part.sure]
        certain = sum((part.pct for part in sure), Fraction(0)) >= LEAST
        told = sure if certain else parts
        now = row.placed.covers(case.day)
        if not now and (row.words or row.placed.first is None or row.placed.first <= case.day):
            return
        asked = "" if certain else f". Not stated: {'; '.join(dict.fromkeys(part.why for part in parts if part.why))}"
        at = found.main_charge([key for part in told for key in part.keys])
        words = f"{_told(told)}: {_says(found, row, now=now)}{asked}"
        level: Severity = "note" if not now or row.basis == RELEASED else row.severity if certain else "warn"
        yield self.of_row(case, row, words, at, "/".join(part.material for part in told[:_MOST_NAMED]), severity=level)


def _says(found: Compliance, row: LawRow, *, now: bool) -> str:
    if row.words:
        return row.words
    what = "synthetic polymer microparticles of 0.01 % and more are not allowed"
    return f"{what} in {found.a_product}" if now else f"{what} in {found.a_product} from {row.placed.first} on"


def _told(parts: Sequence[PolymerPart]) -> str:
    more = len(parts) - _MOST_NAMED
    names = ", ".join(f"{part.names} of '{part.material}' ({percent(part.pct)})" for part in parts[:_MOST_NAMED])
    return f"{names} and {more} more" if more > 0 else names
