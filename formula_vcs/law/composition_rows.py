"""What a product is made of, a row a substance: for the file that a responsible person keeps of it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.identity import entry_of
from formula_vcs.model.ingredient import Ingredient

# Ranges in % w/w that a composition is given in where exact figures are not; the edge belongs to the lower range.  They
# are those of the notification of cosmetic products in the Union (from memory).
EDGES: Final = tuple(map(Fraction, ("0", "0.1", "1", "5", "10", "25", "50", "75", "100")))


class BroughtBy(NamedTuple):
    """A material that brings a substance: its share of the product in %, and what it holds of the substance in %."""

    ingredient: str
    title: str
    supplier: str
    code: str
    share: Fraction
    pct: Fraction


class CompositionRow(NamedTuple):
    """One substance: its % w/w in the product, its numbers and functions, and what brings it.

    What is not on file is empty; ``looked_up`` names what the inventory says where no material does.
    """

    inci: str
    cas: str
    ec: str
    functions: tuple[str, ...]
    pct: Fraction
    brought: tuple[BroughtBy, ...]
    looked_up: tuple[str, ...]


def composition_rows(sums: Breakdown) -> tuple[CompositionRow, ...]:
    """Give the substances of a product, the largest share first, merged over all materials, premixes seen through."""
    brought: dict[str, list[BroughtBy]] = {}
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if material is None or not share:
            continue
        for key, pct in material.contents:
            brought.setdefault(key, []).append(_by(material, share, pct))
    rows = (_row(sums, key, pct, tuple(brought.get(key, ()))) for key, pct in sums.substances.items() if pct)
    return tuple(sorted(rows, key=lambda row: (-row.pct, row.inci)))


def _by(material: Ingredient, share: Fraction, pct: Fraction) -> BroughtBy:
    supplier, code = material.get("supplier") or "", material.get("code") or ""
    return BroughtBy(material.id, material.title, supplier, code, share * 100, pct)


def _row(sums: Breakdown, key: str, pct: Fraction, brought: tuple[BroughtBy, ...]) -> CompositionRow:
    spelled, cas = sums.names[key]
    entry = entry_of(spelled)
    looked_up = ["EC"] if entry is not None and entry.ec else []
    functions = _functions(sums, brought)
    if not cas and entry is not None and entry.cas:
        cas = "; ".join(entry.cas)
        looked_up.append("CAS")
    if not functions and entry is not None and entry.functions:
        functions = tuple(name.casefold() for name in entry.functions)
        looked_up.append("function")
    ec = "; ".join(entry.ec) if entry is not None else ""
    return CompositionRow(spelled, cas, ec, functions, pct, brought, tuple(looked_up))


def _functions(sums: Breakdown, brought: tuple[BroughtBy, ...]) -> tuple[str, ...]:
    """Give what the materials state to do, of those that are mostly this substance; a trace states no function."""
    found = (name for one in brought if one.pct > 50 for name in sums.formula.ingredients[one.ingredient].functions)
    return tuple(dict.fromkeys(found))


def unknown_materials(sums: Breakdown) -> Iterator[tuple[str, Fraction]]:
    """Give the materials whose composition is not on file: title, and share of the product in %."""
    for name in sums.unnamed:
        yield sums.formula.title(name), sums.leaves[name] * 100


def band(pct: Fraction) -> str:
    """Give the range that a share lies in.

    >>> band(Fraction(1)), band(Fraction("1.001")), band(Fraction("0.05"))
    ('> 0.1 to 1 %', '> 1 to 5 %', 'at most 0.1 %')
    """
    high = next(edge for edge in EDGES[1:] if pct <= edge or edge == EDGES[-1])
    low = EDGES[EDGES.index(high) - 1]
    top, bottom = (f"{float(edge):g}" for edge in (high, low))
    return f"> {bottom} to {top} %" if low else f"at most {top} %"
