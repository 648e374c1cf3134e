"""An ingredient list as JSON, by the schema label.json."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.model.recipe import Recipe
from formula_vcs.reports.check.json import dump
from formula_vcs.reports.sheets import Label, RevisionShown
from formula_vcs.words.numbers import exact_text


def write(label: Label, recipe: Recipe, moment: RevisionShown, *, out: TextIO) -> None:
    """Write a list with its percentages."""
    dump(
        {
            "recipe": recipe.id,
            "title": recipe.title,
            "revision": moment.revision,
            "commit": moment.commit,
            "market": label.market,
            "printed": label.printed,
            "label": lines(label),
            "missing": list(label.missing),
        },
        out,
    )


def lines(label: Label) -> list[dict[str, Any]]:
    """Give the names in their order: ``part`` is ordered, free (below the 1 % line) or colorant."""
    return [{"inci": line.inci, "pct": exact_text(line.pct), "part": line.part} for line in label.lines]
