"""Where a material goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final

from formula_vcs.figures.where_used import UsePath
from formula_vcs.model.values import dataclass, replace
from formula_vcs.reports.document.blocks import GAP, Column, Document, Heading, Paragraph, Report, Row, TableBlock
from formula_vcs.reports.document.data import ABSENT, Absence, CommitId, Exact, Name, SchemaRule
from formula_vcs.reports.review_document import ARROW
from formula_vcs.reports.sheets import Used, Whereabouts
from formula_vcs.words.numbers import exact_text, shown


def document(found: Whereabouts) -> Document:
    """Say where it goes, a recipe a row."""
    title = f"{_asked(found)}, {found.moment.revision}"
    return Document(f"Uses of {title}", (Heading(title, kind="Uses of"), GAP, table(found.used, found.of)))


def _asked(found: Whereabouts) -> str:
    """Name what is looked for, and the ingredients that it comes in where these are others."""
    names = ", ".join(name for name in found.ingredients if name != found.of)
    if found.substance or not found.ingredients:
        means = f" ({found.means})" if found.means else ""
        return f"{found.of}{means}, in {', '.join(found.ingredients) or 'no material'}"
    return f"{found.of} ({names})" if names else found.of


def table(used: Sequence[Used], of: str = "") -> TableBlock:
    """Give one recipe a row, with its share and its mass in a batch, and below it the ways in."""
    return TableBlock(
        (
            Column("recipe", most=30),
            Column("share", "point"),
            Column("in a batch", "point", ragged=True),
            Column("phase", most=24, ragged=True),
            Column("kind", ragged=True, lead=", "),
        ),
        tuple(_row(item, of) for item in used),
        "Recipes that it goes into, the largest share first",
        empty="no recipe uses it",
        below="by way of",
    )


def _row(item: Used, of: str) -> Row:
    ways = item.use.ways
    direct = len(ways) == 1 and len(ways[0].links) == 1 and item.substance is None
    kg = item.kg
    return Row(
        (
            item.recipe.id,
            f"{shown(item.pct, 2, 4)} %",
            "" if kg is None else f"{shown(kg, 3, 6)} kg in {item.batch}",
            f"phase {ways[0].links[0].phase}" if direct else "",
            "a premix" if item.recipe.is_premix else "",
        ),
        tuple(Paragraph(words, indent=6, hang=2) for words in _below(item, of, direct=direct)),
    )


def _below(item: Used, of: str, *, direct: bool) -> list[str]:
    lines = [] if direct else [*map(_way, item.use.ways), *(["and more ways"] if item.use.more else [])]
    if len(item.holds) > 1 or (item.holds and item.holds[0].name.casefold() != of.casefold()):
        lines.append(", ".join(f"{one.name} {shown(one.pct, 2, 6)} %" for one in item.holds))
    return lines


def _way(way: UsePath) -> str:
    """Say one way in, the outermost charge first: ``kelp-gel-4 (A) 6.00 % -> kelp-gum (A) 4.00 %: 0.24 %``."""
    chain = f" {ARROW} ".join(f"{link.ingredient} ({link.phase}) {shown(link.pct, 2, 4)} %" for link in way.links)
    return chain if len(way.links) == 1 else f"{chain}: {shown(way.pct, 2, 4)} %"


@dataclass(frozen=True, slots=True)
class UseCharge:
    """A charge on the way in."""

    ingredient: str
    phase: str
    pct: Exact


@dataclass(frozen=True, slots=True)
class UseWay:
    """One way in, the outermost charge first; pct is what comes by it in % of the product."""

    pct: Exact
    charges: Annotated[tuple[UseCharge, ...], SchemaRule(at_least_items=1)]


@dataclass(frozen=True, slots=True)
class SubstanceShare:
    """What was looked for: as the materials write it, its INCI name, % of the product."""

    name: str
    inci: str
    pct: Exact


@dataclass(frozen=True, slots=True)
class RecipeUse:
    """One recipe that it goes into; more says that not all ways are listed."""

    recipe: str
    title: str
    premix: bool
    pct: Exact
    batch: str | None
    kg: Exact | None
    ways: Annotated[tuple[UseWay, ...], SchemaRule(at_least_items=1)]
    more: bool
    substances: tuple[SubstanceShare, ...] | Absence = ABSENT


@dataclass(frozen=True, slots=True)
class UsesRecord:
    """Where an ingredient or a substance goes."""

    of: str
    substance: bool
    means: Annotated[
        str, SchemaRule("The INCI name that another name, or a CAS number, was taken for; empty where none was")
    ]
    ingredients: tuple[Name, ...]
    revision: str
    commit: CommitId | None
    uses: tuple[RecipeUse, ...]


def record(found: Whereabouts) -> UsesRecord:
    """Give all uses as data."""
    return UsesRecord(
        found.of, found.substance, found.means, found.ingredients, found.moment.revision, found.moment.commit,
        tuple(
            replace(
                use_record(item),
                substances=tuple(SubstanceShare(one.name, one.inci, exact_text(one.pct)) for one in item.holds),
            )
            for item in found.used
        ),
    )  # fmt: skip


def use_record(item: Used) -> RecipeUse:
    """Give one recipe that a material goes into as data."""
    return RecipeUse(
        item.recipe.id, item.recipe.title, item.recipe.is_premix, exact_text(item.pct),
        None if item.batch is None else str(item.batch), None if item.kg is None else exact_text(item.kg),
        tuple(
            UseWay(
                exact_text(way.pct),
                tuple(UseCharge(link.ingredient, link.phase, exact_text(link.pct)) for link in way.links),
            )
            for way in item.use.ways
        ),
        item.use.more,
    )  # fmt: skip


REPORT: Final = Report("uses", "uses", document, record)
