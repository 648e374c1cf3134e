"""Where a material goes, for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from formula_vcs.figures.where_used import UsePath
from formula_vcs.reports.review_document import ARROW
from formula_vcs.reports.sheets import Used, Whereabouts
from formula_vcs.reports.terminal import Ink, at_point, columns, cut, left
from formula_vcs.words.escape import terminal
from formula_vcs.words.numbers import shown


def write(found: Whereabouts, *, out: TextIO) -> None:
    """Write all uses."""
    ink = Ink(out)
    ink.wrapped(f"{heading(found)}, {found.moment.revision}", style="strong")
    ink.line()
    table(ink, found.used, found.of)


def heading(found: Whereabouts) -> str:
    """Name what is looked for, and the ingredients that it comes in where these are others."""
    names = ", ".join(name for name in found.ingredients if name != found.of)
    if found.substance or not found.ingredients:
        means = f" ({found.means})" if found.means else ""
        return f"{found.of}{means}, in {', '.join(found.ingredients) or 'no material'}"
    return f"{found.of} ({names})" if names else found.of


def table(ink: Ink, used: Sequence[Used], of: str = "") -> None:
    """Write one recipe a line, with its share and its mass in a batch, and below it the ways in."""
    if not used:
        ink.line("  no recipe uses it")
        return
    width = min(max(columns(terminal(item.recipe.id)) for item in used), 30)
    shares = at_point([shown(item.pct, 2, 4) for item in used])
    masses = at_point(["" if item.kg is None else mass(item) for item in used])
    for item, share, kg in zip(used, shares, masses, strict=True):
        batch = f"  {kg} kg in {item.batch}" if item.kg is not None else ""
        premix = ", a premix" if item.recipe.is_premix else ""
        ways = item.use.ways
        plain = len(ways) == 1 and len(ways[0].links) == 1 and item.substance is None
        direct = f"  phase {ways[0].links[0].phase}" if plain else ""
        name = left(cut(terminal(item.recipe.id), width), width)
        ink.line(f"  {name}  {share} %{batch}{cut(terminal(direct), 24)}{premix}")
        if not direct:
            _ways(ink, item)
        if len(item.holds) > 1 or (item.holds and item.holds[0].name.casefold() != of.casefold()):
            ink.wrapped(substances(item), "      ", " " * 8)


def mass(item: Used) -> str:
    """Write the mass in a batch in kg."""
    return "" if item.kg is None else shown(item.kg, 3, 6)


def substances(item: Used) -> str:
    """Name what was looked for in a recipe, each with its share."""
    return ", ".join(f"{one.name} {shown(one.pct, 2, 6)} %" for one in item.holds)


def _ways(ink: Ink, item: Used) -> None:
    for way in item.use.ways:
        ink.wrapped(words(way), "      ", " " * 8)
    if item.use.more:
        ink.line("      and more ways")


def words(way: UsePath) -> str:
    """Say one way in, the outermost charge first: ``kelp-gel-4 (A) 6.00 % -> kelp-gum (A) 4.00 %: 0.24 %``."""
    chain = f" {ARROW} ".join(f"{link.ingredient} ({link.phase}) {shown(link.pct, 2, 4)} %" for link in way.links)
    return chain if len(way.links) == 1 else f"{chain}: {shown(way.pct, 2, 4)} %"
