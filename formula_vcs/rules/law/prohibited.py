"""Nothing is in the product that its markets prohibit."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import ApplicableRow, Compliance, in_force
from formula_vcs.law.limit_use import amount, percent
from formula_vcs.model.finding import Finding
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case


def beyond_trace(found: Compliance, hit: ApplicableRow) -> bool:
    """Say whether the declared traces of what a row prohibits come to more than it lets an unavoidable trace be.

    All of the row's traces together, counted as its basis; where one is not known as that, as it stands.
    """
    row = hit.row
    if row.at_most is None:
        return False
    keys = [key for key in hit.keys if key in found.traces]
    counted = amount(found, keys, row.basis)
    used = amount(found, keys, "").used if counted.unknown else counted.used
    return used > row.at_most


class Prohibited(PackRule):
    """A recipe holds nothing that the law of its markets prohibits, in this kind of product, on that day.

    Why: a prohibited substance is often a trace in a bought material, or one that was allowed last year.  Some are
    prohibited in some products only: nothing of Annex V/57 in what stays on the skin.  Two preservatives that may
    not stand together are said here too.  What is declared as an impurity is judged by `trace`.
    """

    id = "prohibited"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every substance that must not be there."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            if hit.row.kind == "prohibited":
                yield from self._of(case, found, hit)
            elif hit.row.kind == "together":
                yield from self._together(case, found, hit)

    def _of(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row = hit.row
        for key in hit.keys:
            if key in found.traces and not beyond_trace(found, hit):
                continue
            scoped = row.where != type(row.where)() or row.unless != type(row.unless)()
            where = f" in {found.a_product}" if scoped else ""
            note = f"; {row.note}" if row.note else ""
            name = f"{found.spelled(key)} ({percent(found.totals[key].pct)}){found.by_number(key, row)}"
            words = f"{name} is prohibited{where} by {row.citation}{note}"
            if row.at_most is not None and key in found.traces:
                words = f"{words}; {percent(row.at_most)} is what an unavoidable trace may come to"
            yield self.of_row(case, row, words, found.main_charge([key]), key)

    def _together(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row = hit.row
        for other in row.others:
            if other in found.totals and found.totals[other].pct > 0:
                names = " + ".join(found.spelled(key) for key in hit.keys)
                words = f"{names} and {found.spelled(other)} must not be used together ({row.citation})"
                yield self.of_row(case, row, words, found.main_charge(hit.keys), other)
