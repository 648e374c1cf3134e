"""Where a material goes, as JSON by the schema uses.json."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.reports.check.json import dump
from formula_vcs.reports.sheets import Used, Whereabouts
from formula_vcs.words.numbers import exact_text


def write(found: Whereabouts, *, out: TextIO) -> None:
    """Write all uses."""
    dump(
        {
            "of": found.of,
            "substance": found.substance,
            "means": found.means,
            "ingredients": list(found.ingredients),
            "revision": found.moment.revision,
            "commit": found.moment.commit,
            "uses": [used(item) | {"substances": _substances(item)} for item in found.used],
        },
        out,
    )


def _substances(item: Used) -> list[dict[str, str]]:
    return [{"name": one.name, "inci": one.inci, "pct": exact_text(one.pct)} for one in item.holds]


def used(item: Used) -> dict[str, Any]:
    """Give one recipe that a material goes into."""
    return {
        "recipe": item.recipe.id,
        "title": item.recipe.title,
        "premix": item.recipe.is_premix,
        "pct": exact_text(item.pct),
        "batch": None if item.batch is None else str(item.batch),
        "kg": None if item.kg is None else exact_text(item.kg),
        "ways": [
            {
                "pct": exact_text(way.pct),
                "charges": [
                    {"ingredient": link.ingredient, "phase": link.phase, "pct": exact_text(link.pct)}
                    for link in way.links
                ],
            }
            for way in item.use.ways
        ],
        "more": item.use.more,
    }
