"""What stops complying, when, and by which rule: a recipe judged on every day on which something changes."""

from __future__ import annotations

import datetime
from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass

from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.compliance import Compliance
from formula_vcs.rules.judge import judge
from formula_vcs.rules.law import turning
from formula_vcs.rules.rule import Case
from formula_vcs.rules.table import OF_LAW


@dataclass(frozen=True, slots=True)
class Turn:
    """A finding that a recipe does not have yet and will have from a day on; on sale it may stay until ``sold``."""

    day: datetime.date
    finding: Finding
    sold: datetime.date | None = None


def later(day: datetime.date, months: int) -> datetime.date:
    """Give the same day some months on, or the last of that month."""
    years, month = divmod(day.month - 1 + months, 12)
    last = monthrange(day.year + years, month + 1)[1]
    return datetime.date(day.year + years, month + 1, min(day.day, last))


def horizon(formula: Formula, today: datetime.date, until: datetime.date) -> list[Turn]:
    """Look ahead: blocks and warnings that come after today, up to a day, in their order."""
    found = Compliance(formula, Case(formula, today).sums)
    days = sorted(day for day in {*_days(found), *_of_files(formula)} if today < day <= until)
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


def _known(findings: list[Finding]) -> set[tuple[str, str]]:
    return {(finding.fingerprint, finding.severity) for finding in findings}


def _days(found: Compliance) -> Iterator[datetime.date]:
    """Give the days on which a row about something in the recipe begins to hold or ends."""
    for hit in found.hits:
        yield from turning(hit.row)


def _of_files(formula: Formula) -> Iterator[datetime.date]:
    """Give the first days without a certificate, or without an accepted finding."""
    ends = [
        value
        for material in formula.ingredients.values()
        for path, value in material.facts.items()
        if path[0] == "certificate" and path[-1] == "valid_to"
    ]
    ends += [accepted.until for accepted in formula.recipe.accepted.values()]
    yield from (end + datetime.timedelta(days=1) for end in ends if isinstance(end, datetime.date))


def _sold(found: Compliance, finding: Finding) -> datetime.date | None:
    name = finding.subject.split("/", 1)[0]
    first = next((hit.row.sold.first for hit in found.hits if hit.row.id == name), None)
    return None if first is None else first - datetime.timedelta(days=1)
