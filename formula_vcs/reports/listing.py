"""What is in a workspace: a heading a kind, a line a file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Annotated, Final

from formula_vcs.model.values import dataclass
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
)  # fmt: skip
from formula_vcs.reports.document.data import SchemaRule
from formula_vcs.review.listed_files import ListedFile

_HEADINGS: Final = {
    "recipe": "Recipes", "premix": "Premixes", "ingredient": "Ingredients", "equipment": "Equipment",
    "packaging": "Packaging", "lot": "Lots",
    "batch": "Batches", "proof": "Evidence", "rule": "House rules",
}  # fmt: skip


def document(found: Sequence[ListedFile]) -> Document:
    """Say a line a file; several kinds have a heading each."""
    title = "What is in the workspace"
    return Document(title, (Heading("", kind=title), *_groups(found)))


def _groups(found: Sequence[ListedFile]) -> Iterator[Block]:
    groups = [(kind, list(files)) for kind, files in groupby(found, key=lambda one: one.kind)]
    for number, (kind, files) in enumerate(groups):
        if number:
            yield GAP
        if len(groups) > 1:
            yield Heading(f"{_HEADINGS[kind]}: {len(files)}", 2)
        yield _table(kind, files)
    if not found:
        yield Paragraph("nothing fits")


def _table(kind: str, files: Sequence[ListedFile]) -> TableBlock:
    more = tuple(Column(name, most=16) for name, _ in files[0].columns)
    rows = tuple(Row((one.id, one.title, *(text for _, text in one.columns))) for one in files)
    return TableBlock(
        (Column("id", most=24), Column("title", most=34, flexible=True), *more), rows, _HEADINGS[kind], wide=True,
        indent=0,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class ListedRecord:
    """A file, or a row of one; columns has what the line shows besides, by name: cost and check of a recipe ..."""

    kind: Annotated[str, SchemaRule(one_of=tuple(_HEADINGS))]
    id: str
    title: str
    file: Annotated[str, SchemaRule("path in the workspace")]
    columns: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class ListRecord:
    """What is in a workspace, a file or a row of one each."""

    files: tuple[ListedRecord, ...]


def record(found: Sequence[ListedFile]) -> ListRecord:
    """Give all files as data."""
    return ListRecord(
        tuple(ListedRecord(one.kind, one.id, one.title, one.file, dict(one.columns)) for one in found)
    )  # fmt: skip


REPORT: Final = Report("list", "list", document, record)
