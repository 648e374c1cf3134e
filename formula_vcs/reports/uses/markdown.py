"""Where a material goes, as markdown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from formula_vcs.reports.sheets import Used, Whereabouts
from formula_vcs.reports.table_markdown import Page
from formula_vcs.reports.uses import text as uses_text
from formula_vcs.words.numbers import shown


def write(found: Whereabouts, *, out: TextIO) -> None:
    """Write all uses."""
    page = Page(out)
    page.heading(2, f"Uses of {uses_text.heading(found)}, {found.moment.revision}")
    table(page, found.used)


def table(page: Page, used: Sequence[Used]) -> None:
    """Write one recipe a row."""
    if not used:
        page.paragraph("No recipe uses it.")
        return
    more = ("substances",) if any(item.holds for item in used) else ()
    page.table(
        ("recipe", "%", "kg", "in a batch of", "by way of", *more),
        (
            (
                f"{item.recipe.id} (premix)" if item.recipe.is_premix else item.recipe.id,
                shown(item.pct, 2, 4),
                uses_text.mass(item),
                "" if item.batch is None else str(item.batch),
                "; ".join([*map(uses_text.words, item.use.ways), *(["and more"] if item.use.more else [])]),
                *((uses_text.substances(item),) if more else ()),
            )
            for item in used
        ),
        numbers=(1, 2),
    )
