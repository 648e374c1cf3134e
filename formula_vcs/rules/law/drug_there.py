"""What is a cosmetic here and a drug in the United States, and what its monograph wants."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterator

from formula_vcs.law.compliance import Compliance
from formula_vcs.law.limit_use import percent
from formula_vcs.law.otc_drug import Active, actives, drugs_by_type, of_no_other_use, uv_filters
from formula_vcs.law.packs_in_force import monographs
from formula_vcs.model.finding import Finding
from formula_vcs.rules.law.allowed_substances import PackRule
from formula_vcs.rules.rule import Case

_DUTIES = (
    "'Drug Facts' on its label, active ingredients apart (21 CFR 201.66), and makers registered, products listed, "
)
_SUNSCREEN = "sunscreen"


class OtcDrug(PackRule):
    """A product that is a drug without prescription in the United States is known to be one, and is made as one.

    Why: fluoride toothpaste, sun cream, antiperspirant, acne and anti-dandruff products and skin protectants are drugs
    there.  They hold only active ingredients that their monograph names, between its minimum and its maximum (the rule
    'limit' says where not), and their label, plant and listing are those of drugs.  A UV filter that the monograph
    does not name blocks a sun product; one in any other product warns, for the words on the pack make it a drug
    (21 CFR 700.35).  What a product is follows from its type and what is in it; what is written on it nobody sees here.
    """

    id = "otc-drug"
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say what is a drug, what its monograph wants shown, and what it does not name."""
        found = case.finished
        if found is None or "US" not in found.markets:
            return
        there = actives(found, case.day)
        by_monograph: dict[str, list[Active]] = defaultdict(list)
        for active in there:
            by_monograph[active.monograph].append(active)
        for monograph, held in by_monograph.items():
            yield from self._drug(case, found, monograph, held)
        for monograph in drugs_by_type(found):
            if monograph not in by_monograph:
                words = (
                    f"{found.a_product} is a drug without prescription in the United States ({monograph}), and "
                    "nothing in it is an active ingredient that the monograph names"
                )
                yield self.say(case, words, ("product",), subject=f"{monograph}/none")
        named = {active.key for active in there}
        filters = uv_filters(found)
        yield from self._filters(case, found, filters, named)
        yield from self._elsewhere(case, found, filters)

    def _drug(self, case: Case, found: Compliance, monograph: str, held: list[Active]) -> Iterator[Finding]:
        listed = ", ".join(f"{active.printed} {percent(active.pct)}" for active in held)
        words = (
            f"in the United States this is a drug without prescription too ({monograph}: {listed}; "
            f"{held[0].row.citation}): {_DUTIES}batches made by 21 CFR 210 and 211 (duties from memory)"
        )
        keys = [active.key for active in held]
        yield self.of_row(case, held[0].row, words, found.main_charge(keys), monograph)
        wanted: dict[str, list[Active]] = defaultdict(list)
        for active in held:
            if active.row.words:
                wanted[active.row.words].append(active)
        for what, of in wanted.items():
            names = " + ".join(active.printed for active in of)
            words = f"{names}: the monograph wants: {what} ({of[0].row.citation})"
            at = found.main_charge([active.key for active in of])
            yield self.of_row(case, of[0].row, words, at, f"{monograph}/wants", severity="note")

    def _filters(self, case: Case, found: Compliance, filters: list[str], named: set[str]) -> Iterator[Finding]:
        """Say every UV filter: in a sun product those that the monograph does not name, elsewhere all."""
        sun = found.product is not None and found.product.fits(monographs()[_SUNSCREEN].where)
        for key in filters:
            if sun and key not in named:
                later = _coming(found, key, case.day)
                words = (
                    f"{found.spelled(key)} ({percent(found.totals[key].pct)}) is a UV filter, and no active ingredient "
                    f"that the monograph for sunscreens names (21 CFR 352.10 / M020){later}"
                )
                yield self.say(case, words, found.main_charge([key]), subject=f"uv/{key}", severity="block")
            elif not sun:
                words = (
                    f"{found.spelled(key)} is a UV filter: with a word of the sun on its pack {found.a_product} is a "
                    "drug in the United States, unless it protects the product's colour and the label says so "
                    "(21 CFR 700.35)"
                )
                yield self.say(case, words, found.main_charge([key]), subject=f"uv/{key}")

    def _elsewhere(self, case: Case, found: Compliance, filters: list[str]) -> Iterator[Finding]:
        for row, key in of_no_other_use(found, case.day):
            if row.drug == _SUNSCREEN and key in filters:
                continue
            words = (
                f"{found.spelled(key)} ({percent(found.totals[key].pct)}) is an active ingredient of drugs in the "
                f"United States ({row.drug}, {row.citation}), and {found.a_product} is none by its type; with words of "
                "that kind on its pack it is a drug there"
            )
            yield self.of_row(case, row, words, found.main_charge([key]), key)


def _coming(found: Compliance, key: str, day: datetime.date) -> str:
    """Say from which day on a monograph names a substance, where it does not yet."""
    days = [
        hit.row.placed.first
        for hit in found.spoken
        if hit.row.kind == "active" and hit.row.drug == _SUNSCREEN and key in hit.keys
    ]
    coming = [first for first in days if first is not None and first > day]
    return f" before {min(coming)}" if coming else ""
