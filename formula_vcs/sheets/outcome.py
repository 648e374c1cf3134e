"""What an import has to say of a sheet: rows taken, rows left and why, what is unclear, what is to be asked."""

from __future__ import annotations

from formula_vcs.model.values import dataclass, field
from formula_vcs.sheets.answers import ImportQuestion


@dataclass(frozen=True, slots=True)
class SheetRemark:
    """One line about a place of a sheet: ``file: Sheet!C7``."""

    place: str
    words: str


@dataclass
class TableOutcome:
    """One table of a sheet: as what it was read, and what came of it."""

    place: str
    kind: str
    heads: str
    mapping: list[tuple[str, str]] = field(default_factory=list)
    taken: list[SheetRemark] = field(default_factory=list)
    left: list[SheetRemark] = field(default_factory=list)
    unclear: list[SheetRemark] = field(default_factory=list)
    questions: list[ImportQuestion] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    rows: int = 0
    same: int = 0

    def take(self, place: str, words: str) -> None:
        """Say what is taken from a cell."""
        self.taken.append(SheetRemark(place, words))

    def leave(self, place: str, words: str) -> None:
        """Say what is left alone, and why."""
        self.left.append(SheetRemark(place, words))

    def doubt(self, place: str, words: str) -> None:
        """Say what cannot be read as one value."""
        self.unclear.append(SheetRemark(place, words))

    def ask(self, question: ImportQuestion) -> None:
        """Ask, once for a key."""
        if all(other.key != question.key for other in self.questions):
            self.questions.append(question)
