"""The declaration of fragrance allergens in the finished product."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.figure import unsettled
from formula_vcs.law.compliance import in_force
from formula_vcs.law.functions import SCENT, has_function
from formula_vcs.law.labelling import Allergen, allergens
from formula_vcs.reports.document.blocks import Block, Column, Heading, Items, ListEntry, Paragraph, Row, TableBlock
from formula_vcs.reports.papers.paper import NOT_ON_FILE, Paper
from formula_vcs.words.numbers import shown

TITLE: Final = "Allergen declaration"
_PPM: Final = 10_000
_EARLY: Final = "Every threshold is that of the day above; rows with a later day are in the chapter on deadlines."


def blocks(paper: Paper) -> Iterator[Block]:
    """Give a row an allergen, what the materials state, and what they do not."""
    found = allergens(paper.law, in_force(paper.law, paper.day))
    product = paper.law.product
    contact = product.contact if product is not None else ""
    yield Heading("Allergens", 2)
    yield Paragraph(f"The product is {contact or 'neither known as leave-on nor as rinse-off'}. {_EARLY}")
    columns = (
        Column("allergen"), Column("% w/w", "point"), Column("ppm", "point"), Column("to be named above", "point"),
        Column("on the label"), Column("entry"),
    )  # fmt: skip
    ordered = sorted(found, key=lambda one: (-one.pct, one.printed))
    yield TableBlock(
        columns, tuple(map(_row, ordered)), "Allergens with their sums over all materials",
        "No allergen of the lists in force is stated in any material.", heads=True,
    )  # fmt: skip
    yield from _materials(paper)


def _row(one: Allergen) -> Row:
    return Row(
        (
            one.printed, shown(one.pct, 4, 8), shown(one.pct * _PPM, 1, 4), f"{shown(one.threshold, 0, 4)} %",
            "named" if one.named else "not named: at or below", one.row.citation,
        )
    )  # fmt: skip


def _materials(paper: Paper) -> Iterator[Block]:
    stated, silent = [], []
    for name, share in paper.sums.leaves.items():
        material = paper.formula.ingredients.get(name)
        if not share:
            continue
        if material is None:
            silent.append((f"{name}: no file", True))
        elif material.allergens:
            listed = ", ".join(f"{key} {shown(Fraction(value), 0, 6)} %" for key, value in material.allergens.items())
            stated.append(f"{material.title} ({shown(share * 100, 0, 6)} %): {listed}")
        else:
            scented = has_function(material, SCENT)
            silent.append((f"{material.title} ({shown(share * 100, 0, 6)} %)", scented))
    yield Heading("What the materials state", 2)
    if stated:
        yield Items(tuple(map(ListEntry, stated)), "- ")
    else:
        yield Paragraph(f"Allergen statements: {NOT_ON_FILE}.")
    scents = [words for words, scented in silent if scented]
    if scents:
        yield Paragraph(
            "Scented, or without a file, and without an allergen statement on file: ask before this is sent.", "warn"
        )
        yield Items(tuple(map(ListEntry, scents)), "- ")
    others = [words for words, scented in silent if not scented]
    if others:
        yield Paragraph(f"No allergen statement on file of {len(others)} others: {'; '.join(others)}.")
    for fact in unsettled(paper.sums):
        yield Paragraph(f"{NOT_ON_FILE}: {fact}", "warn")
