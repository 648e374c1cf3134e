"""The qualitative and quantitative composition, for the product information file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.figures.figure import unsettled
from formula_vcs.law.pack_rows import CompositionRow, band, composition_rows, unknown_materials
from formula_vcs.reports.document.blocks import Block, Column, Heading, Items, ListEntry, Paragraph, Row, TableBlock
from formula_vcs.reports.papers.paper import NOT_ON_FILE, Paper
from formula_vcs.words.numbers import shown

TITLE: Final = "Qualitative and quantitative composition"
_LOOKED_UP: Final = (
    "* from the European Commission's inventory of cosmetic ingredients (informative, no legal value): no material "
    "states it."
)
_SUMMED: Final = (
    "Shares are % w/w of the finished product, exact by the recipe, water that evaporates in the process not "
    "considered. Ranges: those of the Union's notification (from memory)."
)


def blocks(paper: Paper) -> Iterator[Block]:
    """Give a row a substance, then a row a material, then what is not on file."""
    rows = composition_rows(paper.sums)
    yield Heading("Substances", 2)
    yield Paragraph(_SUMMED)
    columns = (
        Column("INCI name"), Column("CAS", "right"), Column("EC"), Column("function"), Column("% w/w", "point"),
        Column("range", "right"), Column("from"),
    )  # fmt: skip
    yield TableBlock(
        columns, tuple(map(_row, rows)), "Substances, with their numbers, functions and shares", heads=True
    )
    if any(row.looked_up for row in rows):
        yield Paragraph(_LOOKED_UP, "dim")
    yield from _materials(rows)
    unknown = unknown_materials(paper.sums)
    missing = [f"composition of {title}, {shown(pct)} % of the product" for title, pct in unknown]
    missing += unsettled(paper.sums)
    if missing:
        yield Heading("Not on file", 2)
        yield Items(tuple(ListEntry(f"{fact}") for fact in missing), "- ")


def _row(row: CompositionRow) -> Row:
    def marked(text: str, what: str) -> str:
        return f"{text or NOT_ON_FILE}{'*' if text and what in row.looked_up else ''}"

    return Row(
        (
            row.inci, marked(row.cas, "CAS"), marked(row.ec, "EC"), marked(", ".join(row.functions), "function"),
            shown(row.pct, 4, 8), band(row.pct), "; ".join(one.title for one in row.brought),
        )
    )  # fmt: skip


def _materials(rows: tuple[CompositionRow, ...]) -> Iterator[Block]:
    found = {one.ingredient: one for row in rows for one in row.brought}
    held: dict[str, list[str]] = {}
    for row in rows:
        for one in row.brought:
            held.setdefault(one.ingredient, []).append(f"{row.inci} {shown(one.pct, 0, 4)} %")
    yield Heading("Raw materials", 2)
    columns = (
        Column("trade name"), Column("supplier"), Column("code"), Column("% w/w", "point"),
        Column("composition, % of the material"),
    )  # fmt: skip
    ordered = sorted(found.values(), key=lambda one: (-one.share, one.title))
    yield TableBlock(
        columns,
        tuple(
            Row(
                (
                    one.title, one.supplier or NOT_ON_FILE, one.code or NOT_ON_FILE, shown(one.share, 4, 8),
                    ", ".join(held[one.ingredient]),
                )
            )
            for one in ordered
        ),
        "Raw materials as bought, premixes seen through", heads=True,
    )  # fmt: skip
