"""Synthetic polymer microparticles in a product, and the days from which they are not allowed any more."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.law.compliance import Compliance
from formula_vcs.law.limit_use import percent
from formula_vcs.law.microparticles import LEAST, RELEASED, PolymerPart, polymers
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.law_row import PARTICLES, LawRow
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case

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
