"""The parts that markdown reports are made of: every text of somebody else's goes through ``harmless`` here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TextIO

from formula_vcs.model.finding import Finding
from formula_vcs.words.escape import markdown, shortened


class Page:
    """A markdown page that is written line by line."""

    def __init__(self, out: TextIO, most: int = 0) -> None:
        """Take the output, and how many characters of somebody's words may stand in one place (0: all)."""
        self._out = out
        self._most = most

    def text(self, words: str) -> str:
        """Make somebody's words harmless."""
        return markdown(shortened(words, self._most) if self._most else words)

    def line(self, text: str = "") -> None:
        """Write a line whose parts are harmless already."""
        self._out.write(f"{text}\n")

    def heading(self, level: int, text: str) -> None:
        """Write a heading of somebody's words."""
        self.line(f"{'#' * level} {self.text(text)}")
        self.line()

    def paragraph(self, text: str) -> None:
        """Write a paragraph of somebody's words."""
        self.line(self.text(text))
        self.line()

    def items(self, texts: Iterable[str], indent: int = 0) -> None:
        """Write a list of somebody's words."""
        for text in texts:
            self.line(f"{'  ' * indent}- {self.text(text)}")

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[str]], numbers: Sequence[int] = ()) -> None:
        """Write a table; the columns in ``numbers`` stand at the right."""
        self.line(f"| {' | '.join(heads)} |")
        self.line("|" + "|".join(" ---: " if i in numbers else " --- " for i in range(len(heads))) + "|")
        for row in rows:
            self.line(f"| {' | '.join(self.text(cell) for cell in row)} |")
        self.line()

    def findings(self, findings: Iterable[Finding], indent: int = 0) -> None:
        """Write findings as a list: how bad, where, which rule, the words."""
        for finding in findings:
            self.line(f"{'  ' * indent}- {self.finding(finding)}")

    def finding(self, finding: Finding) -> str:
        """Give a finding as one line of markdown."""
        spot = self.text(f"{finding.path}:{finding.line}:{finding.column}")
        severity = f"**{finding.severity}**" if finding.severity == "block" else finding.severity
        return f"{severity} {spot} \\[{markdown(finding.rule)}\\] {self.text(told(finding))}"


def told(finding: Finding) -> str:
    """Give the words of a finding, with what would mend it."""
    return finding.message if finding.mend is None else f"{finding.message}; {finding.mend.said}"
