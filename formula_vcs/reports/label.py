"""The ingredient list: as it would be printed, and with its shares."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final, NamedTuple

from formula_vcs.figures.ingredient_list import ListPart
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.reports import show_words
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Report,
    Row,
    TableBlock,
)
from formula_vcs.reports.document.data import CommitId, Exact, Name, SchemaRule
from formula_vcs.reports.sheets import MARKETS, Label, RevisionShown
from formula_vcs.words.imitation import titled
from formula_vcs.words.numbers import exact_text

CAUTION: Final = "Names, order and market rules follow the stated data: the responsible person decides what is printed."


class LabelShown(NamedTuple):
    """The list of a recipe at a moment."""

    label: Label
    recipe: Recipe
    moment: RevisionShown


def document(found: LabelShown) -> Document:
    """Say the list, then a row a name."""
    label, recipe, moment = found
    return Document(
        f"Ingredient list of {titled(recipe.title)}",
        (
            Heading(titled(recipe.title), name=recipe.id),
            Paragraph(f"ingredient list for {label.market}, {moment.revision}", "dim"),
            GAP,
            *printed(label),
            GAP,
            TableBlock(
                (Column("share", "point"), Column("name")),
                tuple(Row((f"{share} %", inci), above=starts) for inci, share, starts in show_words.label_rows(label)),
                "The names in their order, with their shares",
            ),
            GAP,
            Paragraph(CAUTION),
        ),
    )


def printed(label: Label, indent: int = 0) -> Iterator[Block]:
    """Give the list as it would be printed, and what cannot be in it."""
    yield Paragraph(label.printed or "nothing to list", indent=indent)
    for fact in label.missing:
        yield Paragraph(f"not complete: {fact}", indent=indent, hang=2)


@dataclass(frozen=True, slots=True)
class ListedName:
    """A name in its place."""

    inci: Name
    pct: Exact
    part: Annotated[
        ListPart,
        SchemaRule("free: in any order below the line at 1 %; colorant: in any order behind all others"),
    ]


@dataclass(frozen=True, slots=True)
class LabelRecord:
    """The ingredient list of a recipe."""

    recipe: str
    title: str
    revision: str
    commit: CommitId | None
    market: Annotated[str, SchemaRule(one_of=MARKETS)]
    printed: str
    label: tuple[ListedName, ...]
    missing: Annotated[tuple[Name, ...], SchemaRule("What is not in it for lack of data")]


def record(found: LabelShown) -> LabelRecord:
    """Give the list with its percentages as data."""
    label, recipe, moment = found
    return LabelRecord(
        recipe.id, recipe.title, moment.revision, moment.commit, label.market, label.printed, listed(label),
        label.missing,
    )  # fmt: skip


def listed(label: Label) -> tuple[ListedName, ...]:
    """Give the names in their order as data."""
    return tuple(ListedName(line.inci, exact_text(line.pct), line.part) for line in label.lines)


REPORT: Final = Report("label", "label", document, record)
