"""Hints that are not the law: what an authority's list ties to an entry, and numbers that several materials share."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import in_force
from formula_vcs.law.limit_use import percent
from formula_vcs.model.finding import Finding
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case

_LONGEST = 160


class AnnexHint(PackRule):
    """A substance that an authority counts under an entry of the annexes is looked at.

    Why: an entry names a group ("and its salts", "its derivatives", "preparations"), and whether a substance is of it
    the law does not always say.  The Commission's CosIng and ECHA's lists tie names to entries; both say that they
    are no law.  So this never blocks: find out whether the entry is about the material, and a house rule or an
    acceptance keeps the answer.
    """

    id = "annex-hint"
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every tie that is only a hint."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            row = hit.row
            if row.kind != "hint":
                continue
            shared = row.id.endswith("-shared")
            who = "it shares its CAS number with" if shared else "CosIng or ECHA counts it under"
            title = row.words if len(row.words) <= _LONGEST else f"{row.words[:_LONGEST].rsplit(' ', 1)[0]} ..."
            for key in hit.keys:
                words = (
                    f"{found.spelled(key)} ({percent(found.totals[key].pct)}): {who} {row.citation} ('{title}'). "
                    "That is a hint and not the law: find out whether the entry is about it"
                )
                yield self.of_row(case, row, words, found.main_charge([key]), key)
