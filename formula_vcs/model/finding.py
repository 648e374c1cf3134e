"""One thing that a check says, at one place of one file."""

from __future__ import annotations

from typing import Final, Literal

from formula_vcs.model.facts import Path
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.words.checksums import sha256

Severity = Literal["block", "warn", "note"]
SEVERITIES: Final[tuple[Severity, ...]] = ("block", "warn", "note")


@dataclass(frozen=True, slots=True)
class Mend:
    """The nearest number that would mend a finding, tried by judging: in words, and where it stands.

    ``path`` is the fact of the recipe, ``end`` which number of it ("amount", "low", "high", "one" for a range of one
    value, "size"), ``value`` the number to write there and ``unit`` its unit.
    """

    words: str
    path: Path
    end: str
    value: str
    unit: str

    @property
    def said(self) -> str:
        """What stands below a finding."""
        return f"would mend it: {self.words}"


@dataclass(frozen=True, slots=True)
class Finding:
    """What a rule says.

    ``file`` is relative to the workspace and ``at`` is a path of facts in it; ``line`` and ``column`` (from 1)
    are filled in when the finding is placed, ``shown`` (the file from where the reader stands) when it is printed.
    ``accepted`` is how bad it was before the recipe accepted it.
    ``subject`` says what it is about in a form that does not move when numbers or lines do, so that the same finding
    is known again in another version.  ``mend`` is what would mend it, where that was looked for and found.
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
    mend: Mend | None = field(default=None, compare=False)

    @property
    def path(self) -> str:
        """The file as it is found from where the reader stands, else as the workspace has it."""
        return self.shown or self.file

    @property
    def fingerprint(self) -> str:
        """Name the finding by rule, recipe and subject: the same in every version, whatever its line."""
        owner = self.recipe if self.recipe is not None else self.file
        return sha256(f"{self.rule}\0{owner}\0{self.subject}".encode("utf-8", "replace")).hexdigest()[:16]

    def placed(self, line: int, column: int) -> Finding:
        """The finding with its line and column, both from 1."""
        return replace(self, line=line, column=column)


# What could not be read: said before what follows from it.
MISREAD: Final = frozenset(
    {"syntax", "unreadable", "too-big", "link-outside", "conflict", "merge-stopped", "duplicate-id", "unknown-key",
     "missing-value", "wrong-type", "bad-value", "bad-quantity", "bad-id"}
)  # fmt: skip


def badness(finding: Finding) -> tuple[int, bool]:
    """Order findings by how bad they are; of those as bad, what could not be read comes first."""
    return SEVERITIES.index(finding.severity), finding.rule not in MISREAD


def worst_first(finding: Finding) -> tuple[int, bool, str, int, int, str, str]:
    """Order findings the worst first, what could not be read before what follows from it; then by file and line."""
    return *badness(finding), finding.path, finding.line, finding.column, finding.rule, finding.message


def blocks(findings: list[Finding], fail_on: str = "block") -> bool:
    """Say whether any finding is as bad as ``fail_on`` (block, warn, note) or worse; ``never`` never is."""
    if fail_on == "never":
        return False
    limit = SEVERITIES.index(fail_on)
    return any(SEVERITIES.index(finding.severity) <= limit for finding in findings)
