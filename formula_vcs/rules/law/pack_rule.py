"""What rules have in common that speak for the rows of packs."""

from __future__ import annotations

from typing import ClassVar

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.law_row import LawRow
from formula_vcs.rules.rule import Case, Rule

PACKS = "the row of the pack that the finding names"


class PackRule(Rule):
    """A rule that is many rows of data; each finding carries its row's citation and can be accepted by its id.

    ``of_rows`` says that nothing but rows about this kind of product makes its findings.
    """

    source = PACKS
    acceptable = True
    legal = True
    of_rows: ClassVar[bool] = True

    def of_row(
        self,
        case: Case,
        row: LawRow,
        message: str,
        at: Path,
        subject: str,
        *,
        severity: Severity | None = None,
    ) -> Finding:
        """Word a finding of a row: its subject is the row and the substances, its source the row's citation."""
        level = severity or (row.severity if self.severity == "block" else self.severity)
        return Finding(
            self.id,
            level,
            message,
            case.recipe.file,
            at=at,
            recipe=case.recipe.id,
            source=row.source,
            subject=f"{row.id}/{subject}",
        )
