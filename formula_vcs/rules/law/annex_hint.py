"""Hints that are not the law: what an authority's list ties to an entry, and numbers that several materials share."""

from __future__ import annotations

import re
from collections.abc import Iterator

from formula_vcs.law.compliance import Compliance, in_force
from formula_vcs.law.limit_use import percent
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import LawRow
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case

_LONGEST = 160


class AnnexHint(PackRule):
    """A substance that an authority counts under an entry of the annexes is looked at.

    Why: an entry names a group ("and its salts", "its derivatives", "preparations"), and whether a substance is of it
    the law does not always say.  The Commission's CosIng and ECHA's lists tie names to entries; both say that they
    are no law.  Of some materials the text itself leaves open whether an entry is about them.  So this never blocks: it
    asks for a ruling.  A row of the house about the substance that cites the entry is one, whatever it says; and a
    recipe can accept the finding.

    So:
        [[rule]]                            # rules/rulings.toml
        id = "bentonite-aluminium"
        kind = "allowed"
        substances = ["Bentonite"]
        source = "Ruling of our safety assessor, 12 May 2026: no case of Annex III/381"
    """

    id = "annex-hint"
    legal = False
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
            title = row.words if len(row.words) <= _LONGEST else f"{row.words[:_LONGEST].rsplit(' ', 1)[0]} ..."
            for key in hit.keys:
                if _ruled(found, row, key):
                    continue
                name = f"{found.spelled(key)} ({percent(found.totals[key].pct)})"
                words = f"{name}: {_why(row)} {row.citation} ('{title}'). {_ask(row)}"
                yield self.of_row(case, row, words, found.main_charge([key]), key)


def _why(row: LawRow) -> str:
    if row.id.endswith("-shared"):
        return "it shares its CAS number with"
    return "CosIng or ECHA counts it under" if row.id.endswith("-hint") else "it may fall under"


def _ask(row: LawRow) -> str:
    if row.note:
        return f"A ruling is needed: {row.note}"
    return "That is a hint and not the law: find out whether the entry is about it"


def _ruled(found: Compliance, row: LawRow, key: str) -> bool:
    """Say whether a row of the house settles a hint: it is about the substance and cites the entry."""
    entry = row.citation.rsplit(", ", 1)[-1]
    own = (other for other in found.house if key in other.names)
    return any(re.search(rf"{re.escape(entry)}(?!\d)", other.citation) for other in own)
