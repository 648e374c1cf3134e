"""What will stop complying, and when."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Annotated, Final, NamedTuple

from formula_vcs.model.finding import Finding
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Document,
    FindingLine,
    Heading,
    Paragraph,
    Report,
)  # fmt: skip
from formula_vcs.reports.document.data import Day, SchemaRule
from formula_vcs.reports.findings import FindingRecord, finding_record

Ahead = tuple[datetime.date, Finding, datetime.date | None]
_RESTS: Final = "Rows marked [memory] or [commentary] were not checked against the text of the law."


class HorizonShown(NamedTuple):
    """What comes, the earliest first, up to which day, and how many recipes were looked at."""

    turns: Sequence[Ahead]
    until: datetime.date
    recipes: int


def document(found: HorizonShown) -> Document:
    """Say a heading a day, and the count."""
    turns, until, recipes = found
    title = f"What stops complying up to {until}"
    count = "1 recipe" if recipes == 1 else f"{recipes} recipes"
    closing: list[Block] = [GAP] if turns else []
    closing.append(Paragraph(f"{count}, up to {until}: {_verdict(turns)}"))
    closing += [Paragraph(_RESTS)] if any("[" in finding.source for _, finding, _ in turns) else []
    return Document(title, (Heading("", kind=title), *_days(turns), *closing))


def _days(turns: Sequence[Ahead]) -> Iterator[Block]:
    last = None
    for day, finding, sold in turns:
        if day != last:
            yield Heading(f"from {day} on", 2)
            last = day
        below = [Paragraph(f"source: {finding.source}", "dim", indent=4)]
        if sold is not None:
            words = f"what was placed on the market before may be sold until {sold}"
            below.append(Paragraph(words, "dim", indent=4))
        yield FindingLine(finding, tuple(below), indent=2, first="recipe")


def _verdict(turns: Sequence[Ahead]) -> str:
    """Say how many recipes will be blocked, and how many others will be warned about."""
    blocked = {finding.recipe for _, finding, _ in turns if finding.severity == "block"}
    warned = {finding.recipe for _, finding, _ in turns} - blocked
    parts = [f"{len(blocked)} will not comply"] if blocked else []
    parts += [f"{len(warned)} will need attention"] if warned else []
    return ", ".join(parts) or "nothing changes"


@dataclass(frozen=True, slots=True)
class TurnRecord:
    """One thing that will stop complying."""

    from_: Day
    sold_until: Annotated[Day | None, SchemaRule("What was placed on the market before may be sold until this day")]
    finding: FindingRecord


@dataclass(frozen=True, slots=True)
class HorizonRecord:
    """What will stop complying up to a day, the earliest first."""

    until: Day
    recipes: Annotated[int, SchemaRule(least=0)]
    turns: tuple[TurnRecord, ...]


def record(found: HorizonShown) -> HorizonRecord:
    """Give every turn with its day as data."""
    turns = (
        TurnRecord(day.isoformat(), None if sold is None else sold.isoformat(), finding_record(finding))
        for day, finding, sold in found.turns
    )
    return HorizonRecord(found.until.isoformat(), found.recipes, tuple(turns))


REPORT: Final = Report("check --horizon", "horizon", document, record)
