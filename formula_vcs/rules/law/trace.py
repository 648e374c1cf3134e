"""Traces of what is prohibited: allowed where nobody put them in, nobody can keep them out, and they do no harm."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import Compliance, Hit, in_force
from formula_vcs.law.limit_use import percent
from formula_vcs.model.finding import Finding
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.law.prohibited import beyond_trace
from formula_vcs.rules.rule import Case

_EU = "Regulation (EC) No 1223/2009, Article 17"


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

    def _of(self, case: Case, found: Compliance, hit: Hit) -> Iterator[Finding]:
        row = hit.row
        for key in () if beyond_trace(found, hit) else hit.keys:
            if key not in found.traces:
                continue
            used = found.totals[key].pct
            limit = f", which allows traces up to {percent(row.at_most, used)}" if row.at_most is not None else ""
            ground = f" ({_EU})" if row.pack.startswith("eu-") else ""
            words = (
                f"{found.spelled(key)} ({percent(used)}, a trace): prohibited by {row.citation}{limit}; write down why "
                f"it cannot be avoided and that the product is safe{ground}"
            )
            yield self.of_row(case, row, words, found.main_charge([key]), key)
