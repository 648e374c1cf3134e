"""What a document is about, and what stands at the head of each: recipe, version, days, who asked."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import Block, Document, Heading, KeyValues, Paragraph, Verdict, strong
from formula_vcs.reports.papers.letterhead import Letterhead
from formula_vcs.words.imitation import titled

NOT_ON_FILE: Final = "not on file"


@dataclass(frozen=True)
class PaperVersion:
    """Which version a document is of.

    ``commit`` is None where the recipe, or something that it rests on, is not committed; ``tags`` name the commit.
    ``approval`` is the words of how it stands, and ``approved`` whether all that is asked have approved it.
    """

    revision: str
    commit: str | None
    tags: tuple[str, ...]
    hash: str
    approval: str = "no approval of this version is on file"
    approved: bool = False


@dataclass(frozen=True)
class Paper:
    """A document about one version of a recipe, before its kind says what is in it."""

    kind: str
    formula: Formula
    sums: Breakdown
    law: Compliance
    terms: Terms
    version: PaperVersion
    asked_by: str
    made_by: str
    letterhead: Letterhead

    @property
    def recipe(self) -> Recipe:
        """Give the recipe."""
        return self.formula.recipe

    @property
    def day(self) -> datetime.date:
        """Give the day of the law and of the prices."""
        return self.terms.day

    @property
    def mark(self) -> str:
        """Say what every page has to be marked with; empty where the version is committed and approved."""
        if self.version.commit is None:
            return "DRAFT: not committed"
        return "" if self.version.approved else "NOT APPROVED"

    @property
    def named(self) -> str:
        """Name the version in a few words, for the head of a page."""
        tag = f"{self.version.tags[0]}, " if self.version.tags else ""
        return f"{tag}content {self.version.hash[:12]}"


Build = Callable[[Paper], Iterator[Block]]


def document(paper: Paper, title: str, build: Build) -> Document:
    """Put the head, the house's words and the content of a document together."""
    house = paper.letterhead
    return Document(
        f"{title}: {titled(paper.recipe.title)}",
        (
            Heading(f"{title}: {titled(paper.recipe.title)}", name=paper.recipe.id),
            *_house(house),
            *_marked(paper),
            KeyValues(tuple(_head(paper)), "What this document is about", aligned=True),
            *(Paragraph(text) for text in house.before(paper.kind)),
            *build(paper),
            *(Paragraph(text) for text in house.after(paper.kind)),
            Paragraph(CAUTION, "dim"),
        ),
    )


CAUTION: Final = (
    "Made from the files of this version; what is not on file is said to be so. It is arithmetic and no assessment: "
    "the responsible person, the safety assessor and the law of the place decide."
)


def _house(house: Letterhead) -> Iterator[Block]:
    if house.name:
        yield Paragraph((strong(house.name),))
    if house.address:
        yield Paragraph(house.address)


def _marked(paper: Paper) -> Iterator[Block]:
    if paper.version.commit is None:
        words = "Draft: this is not committed, so nobody can find this version again. Commit it before it is sent."
        yield Verdict((Paragraph(words),), "bad")
    elif not paper.version.approved:
        yield Verdict((Paragraph(f"Not approved: {paper.version.approval}."),), "warn")


def _head(paper: Paper) -> Iterator[tuple[str, str]]:
    version = paper.version
    yield "recipe", f"{titled(paper.recipe.title)} ({paper.recipe.id})"
    yield "content", version.hash
    yield "commit", version.commit or "not committed"
    yield "tag", ", ".join(version.tags) or "none"
    yield "approval", version.approval
    yield "law and prices of", paper.day.isoformat()
    yield "asked for by", paper.asked_by or NOT_ON_FILE
    yield "made by", paper.made_by
