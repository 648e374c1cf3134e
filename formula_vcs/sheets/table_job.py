"""One table that is being taken in: the table, what it goes into, and what there is to say of it."""

from __future__ import annotations

from formula_vcs.model.values import dataclass
from formula_vcs.sheets.answers import Answers, ImportQuestion, TableOutcome
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.find_tables import FoundTable
from formula_vcs.sheets.match_names import NameMatcher


@dataclass(frozen=True)
class TableJob:
    """A table of a book with the draft that it changes, the answers a person gave, and its outcome."""

    book: str
    table: FoundTable
    draft: Draft
    matcher: NameMatcher
    answers: Answers
    out: TableOutcome

    def told(self, key: str) -> str:
        """Give what a person said of tables like this, nothing where nobody did; and note that it was wanted."""
        self.out.asked.add(key)
        return self.answers.of(self.table.heads, key)

    def ask(self, key: str, words: str, option: str, choices: tuple[str, ...] = (), place: str = "") -> None:
        """Ask a person something that the table leaves open."""
        self.out.asked.add(key)
        self.out.ask(ImportQuestion(key, words, option, choices, place or self.table.grid.name))
