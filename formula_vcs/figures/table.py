"""The figures there are, by name, in the order in which they are shown."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Final

from formula_vcs.figures import cost, density, origin, total
from formula_vcs.figures.figure import Compute, Figure, Terms
from formula_vcs.figures.sums import Sums
from formula_vcs.model.ingredient import ORIGIN_INDICES

FIGURES: Final[dict[str, Compute]] = {
    "total": total.total,
    "cost_per_kg": cost.cost_per_kg,
    "cost_per_pack": cost.cost_per_pack,
    "density": density.density,
    "water": origin.water,
    "formulation_water": origin.formulation_water,
    **{name: partial(origin.content, index=name) for name in ORIGIN_INDICES},
    **{f"{name}_without_water": partial(origin.content_without_water, index=name) for name in ORIGIN_INDICES},
}
# Sums of quantity times property: the mean of the two one-at-a-time effects is then exactly Bennet's share.
BILINEAR: Final = frozenset({"cost_per_kg", "water", "formulation_water", "total", *ORIGIN_INDICES})


def figures(sums: Sums, terms: Terms, names: Iterable[str] = FIGURES) -> dict[str, Figure]:
    """Compute figures by name."""
    return {name: FIGURES[name](sums, terms) for name in names}
