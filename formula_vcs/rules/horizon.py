"""What stops complying, when, and by which rule: a recipe judged on every day on which something changes."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.law.compliance import Compliance, compliance_of
from formula_vcs.law.microparticles import polymers
from formula_vcs.law.packs_in_force import turning
from formula_vcs.model.asked_day import after
from formula_vcs.model.evidence import proofs
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.law_row import PARTICLES
from formula_vcs.model.values import dataclass, replace
from formula_vcs.rules.judge import judge
from formula_vcs.rules.records.evidence import EvidenceExpired
from formula_vcs.rules.registry import OF_LAW
from formula_vcs.rules.rule import Case, RecordCase


@dataclass(frozen=True, slots=True)
class Turn:
    """A finding that a recipe does not have yet and will have from a day on; on sale it may stay until ``sold``."""

    day: datetime.date
    finding: Finding
    sold: datetime.date | None = None


def later(day: datetime.date, months: int) -> datetime.date:
    """The same day some months on, or the last of that month."""
    years, month = divmod(day.month - 1 + months, 12)
    if day.year + years > datetime.MAXYEAR:
        return datetime.date.max
    from calendar import monthrange

    last = monthrange(day.year + years, month + 1)[1]
    return datetime.date(day.year + years, month + 1, min(day.day, last))


def horizon(formula: Formula, today: datetime.date, until: datetime.date) -> list[Turn]:
    """Look ahead: blocks and warnings that come after today, up to a day, in their order."""
    found = compliance_of(Case(formula, today).sums)
    days = [day for day in turning_days(formula, found) if today < day <= until]
    if not days:
        return []
    before = _known(judge(formula, today, found.sums, OF_LAW))
    turns: list[Turn] = []
    for day in days:
        now = judge(formula, day, found.sums, OF_LAW)
        turns += [
            Turn(day, finding, _sold(found, finding))
            for finding in now
            if finding.severity != "note" and (finding.fingerprint, finding.severity) not in before
        ]
        before = _known(now)
    return turns


def evidence_ending(case: RecordCase, until: datetime.date) -> list[Turn]:
    """Look ahead for one evidence file: the proofs that end after the day of the case, up to another, unrenewed."""
    ends = {proof.until for proof in proofs(case.record) if proof.until is not None and case.day <= proof.until < until}
    turns: list[Turn] = []
    for end in sorted(ends):
        day = after(end)
        now = EvidenceExpired().check_record(replace(case, day=day))
        turns += [Turn(day, finding) for finding in now if case.record.facts.get((*finding.at[:2], "until")) == end]
    return turns


def turning_days(formula: Formula, found: Compliance | None = None) -> list[datetime.date]:
    """The days on which what is said of a recipe may turn, in their order: from one to the next it is the same."""
    if found is None:
        found = compliance_of(breakdown_of(formula))
    return sorted({*_days(found), *_of_files(formula)})


def _known(findings: list[Finding]) -> set[tuple[str, str]]:
    return {(finding.fingerprint, finding.severity) for finding in findings}


def _days(found: Compliance) -> Iterator[datetime.date]:
    """The days on which a row about something in the recipe begins to hold or ends."""
    bare = not polymers(found)
    for hit in found.hits:
        if not (bare and hit.row.kind == PARTICLES):
            yield from turning(hit.row)


def _of_files(formula: Formula) -> Iterator[datetime.date]:
    """The first days without a certificate, or without an accepted finding."""
    ends = [
        value
        for material in formula.ingredients.values()
        for path, value in material.facts.items()
        if path[0] == "certificate" and path[-1] == "valid_to"
    ]
    ends += [accepted.until for accepted in formula.recipe.accepted.values()]
    yield from (after(end) for end in ends if isinstance(end, datetime.date))


def _sold(found: Compliance, finding: Finding) -> datetime.date | None:
    name = finding.subject.split("/", 1)[0]
    first = next((hit.row.sold.first for hit in found.hits if hit.row.id == name), None)
    return None if first is None or first == datetime.date.min else first - datetime.timedelta(days=1)
