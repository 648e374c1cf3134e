"""The specification of the finished product."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.model.spec_line import SpecLine
from formula_vcs.reports.document.blocks import Block, Column, Heading, Paragraph, Row, TableBlock
from formula_vcs.reports.papers.paper import NOT_ON_FILE, Paper

TITLE: Final = "Specification"
# What a specification of a cosmetic product usually says (common practice, no source), each with the words by which a
# line of the recipe's [spec] is known to be about it.
_ASKED: Final = (
    ("Look and odour", (
        ("appearance", ("appearance", "aspect", "look", "texture")), ("colour", ("colour", "color")),
        ("odour", ("odour", "odor", "smell", "scent")),
    )),
    ("Physics and chemistry", (
        ("pH", ("ph",)), ("viscosity", ("viscosity",)), ("density", ("density", "specific gravity")),
    )),
    ("Microbiology", (
        ("aerobic mesophilic bacteria", ("tamc", "bacteria", "aerobic", "plate count")),
        ("yeasts and moulds", ("tymc", "yeast", "mould", "mold")),
        ("specified micro-organisms, absence", (
            "pathogen", "absence", "specified", "aureus", "aeruginosa", "coli", "candida",
        )),
    )),
    ("Storage and life", (
        ("storage", ("storage", "store")), ("shelf life", ("shelf", "durability")),
        ("period after opening", ("pao", "after opening")),
    )),
)  # fmt: skip


def blocks(paper: Paper) -> Iterator[Block]:
    """Give a table a group; what the recipe's spec does not say is said to be not on file."""
    left = dict(paper.recipe.spec_lines)
    for title, asked in _ASKED:
        rows: list[Row] = []
        for name, words in asked:
            mine = [line for key, line in left.items() if _about(key, words)]
            for line in mine:
                left.pop(line.name)
                rows.append(_row(line))
            if not mine:
                rows.append(Row((name, NOT_ON_FILE, "", "")))
        yield from _table(title, rows)
    if left:
        yield from _table("Further", [_row(line) for line in left.values()])
    yield Heading("Pack", 2)
    yield Paragraph(f"Content of one pack: {paper.recipe.pack or NOT_ON_FILE}.")


def _about(name: str, words: tuple[str, ...]) -> bool:
    folded = name.casefold().replace("_", " ").replace("-", " ")
    return any(word == folded or (len(word) > 2 and word in folded) for word in words)


def _row(line: SpecLine) -> Row:
    method = NOT_ON_FILE if line.method is None else " ".join(line.method.split())
    return Row(
        (line.name, " ".join(str(line.asks).split()), NOT_ON_FILE if line.temp is None else f"{line.temp}", method)
    )


def _table(title: str, rows: list[Row]) -> Iterator[Block]:
    yield Heading(title, 2)
    columns = (Column("property"), Column("limit"), Column("at"), Column("method"))
    yield TableBlock(columns, tuple(rows), title, heads=True)
