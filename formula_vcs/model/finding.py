"""One thing that a check says, at one place of one file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Final, Literal

from formula_vcs.model.facts import Path

Severity = Literal["block", "warn", "note"]
SEVERITIES: Final[tuple[Severity, ...]] = ("block", "warn", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """What a rule says.

    ``file`` is relative to the workspace and ``at`` is a path of facts in it; ``line`` and ``column`` (from 1)
    are filled in when the finding is placed, ``shown`` (the file from where the reader stands) when it is printed.
    ``accepted`` is how bad it was before the recipe accepted it.
    ``subject`` says what it is about in a form that does not move when numbers or lines do, so that the same finding
    is known again in another version.
    """

    rule: str
    severity: Severity
    message: str
    file: str
    at: Path = ()
    recipe: str | None = None
    source: str = ""
    subject: str = ""
    line: int = 0
    column: int = 0
    on_value: bool = False
    shown: str = ""
    accepted: Severity | None = None

    @property
    def path(self) -> str:
        """Give the file as it is found from where the reader stands, else as the workspace has it."""
        return self.shown or self.file

    @property
    def fingerprint(self) -> str:
        """Name the finding by rule, recipe and subject: the same in every version, whatever its line."""
        owner = self.recipe if self.recipe is not None else self.file
        return sha256(f"{self.rule}\0{owner}\0{self.subject}".encode("utf-8", "replace")).hexdigest()[:16]

    def placed(self, line: int, column: int) -> Finding:
        """Give the finding with its line and column, both from 1."""
        return replace(self, line=line, column=column)


def worst_first(finding: Finding) -> tuple[str, int, int, int, str, str]:
    """Order findings by file and line, the worst first on a line."""
    rank = SEVERITIES.index(finding.severity)
    return finding.path, finding.line, finding.column, rank, finding.rule, finding.message


def blocks(findings: list[Finding], fail_on: str = "block") -> bool:
    """Say whether any finding is as bad as ``fail_on`` (block, warn, note) or worse; ``never`` never is."""
    if fail_on == "never":
        return False
    limit = SEVERITIES.index(fail_on)
    return any(SEVERITIES.index(finding.severity) <= limit for finding in findings)
