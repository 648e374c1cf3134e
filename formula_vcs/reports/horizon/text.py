"""What will stop complying, for a terminal."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TextIO

from formula_vcs.model.finding import Finding
from formula_vcs.reports.terminal import Ink
from formula_vcs.words.escape import terminal

Ahead = tuple[datetime.date, Finding, datetime.date | None]
RESTS = "Rows marked [memory] or [commentary] were not checked against the text of the law."


def write(found: Sequence[Ahead], *, until: datetime.date, recipes: int, out: TextIO) -> None:
    """Write one block a day, the earliest first."""
    ink = Ink(out)
    last = None
    for day, finding, sold in found:
        if day != last:
            ink.line(ink.paint(f"from {day} on", "strong"))
            last = day
        spot = f"{terminal(finding.path)}:{finding.line}:{finding.column}"
        severity = ink.paint(finding.severity, finding.severity)
        ink.line(f"  {terminal(finding.recipe or '')}: {severity} [{finding.rule}] {spot}")
        ink.wrapped(finding.message, "      ")
        ink.wrapped(f"source: {finding.source}", "      ", style="dim")
        if sold is not None:
            ink.wrapped(f"what was placed on the market before may be sold until {sold}", "      ", style="dim")
    if found:
        ink.line()
    ink.line(f"{_count(recipes)}, up to {until}: {verdict(found)}")
    if any("[" in finding.source for _, finding, _ in found):
        ink.wrapped(RESTS)


def verdict(found: Sequence[Ahead]) -> str:
    """Say how many recipes will be blocked, and how many others will be warned about."""
    blocked = {finding.recipe for _, finding, _ in found if finding.severity == "block"}
    warned = {finding.recipe for _, finding, _ in found} - blocked
    parts = [f"{len(blocked)} will not comply"] if blocked else []
    parts += [f"{len(warned)} will need attention"] if warned else []
    return ", ".join(parts) or "nothing changes"


def _count(recipes: int) -> str:
    return "1 recipe" if recipes == 1 else f"{recipes} recipes"
