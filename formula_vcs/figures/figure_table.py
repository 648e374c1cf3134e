"""The figures there are, by name, in the order in which they are shown."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Final

from formula_vcs.figures import (
    actives,
    cost,
    density,
    hlb,
    origin,
    pack_cost,
    ph,
    preservatives,
    standards,
    total,
    water_activity,
)
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Compute, Figure, Terms
from formula_vcs.figures.interval import with_ends
from formula_vcs.model.ingredient import ORIGIN_INDICES

FIGURES: Final[dict[str, Compute]] = {
    "total": total.total,
    "cost_per_kg": cost.cost_per_kg,
    "cost_per_pack": pack_cost.cost_per_pack,
    "density": density.density,
    "water": with_ends(origin.water),
    "formulation_water": origin.formulation_water,
    **{name: partial(origin.content, index=name) for name in ORIGIN_INDICES},
    **{f"{name}_without_water": partial(origin.content_without_water, index=name) for name in ORIGIN_INDICES},
    **{name: partial(standards.figure, name=name) for name in standards.NAMES},
    "nop_organic": standards.nop_organic,
    "nop_organic_label": standards.nop_organic_label,
    "density_corrected": with_ends(density.density_corrected),
    "water_activity": with_ends(water_activity.water_activity),
    "free_acid": with_ends(preservatives.free_acid),
    "ph_estimate": with_ends(ph.ph_estimate),
    "fluoride_ppm": with_ends(actives.fluoride_ppm),
    "active_ppm": with_ends(actives.active_ppm),
    "active_matter": with_ends(actives.active_matter),
    "required_hlb": with_ends(hlb.required_hlb),
    "emulsifier_hlb": with_ends(hlb.emulsifier_hlb),
}
# Figures of some kinds of product only: a sheet for people leaves them out where they are nothing or not known.
SPECIAL: Final = frozenset(
    {
        "density_corrected", "water_activity", "free_acid", "ph_estimate", "fluoride_ppm", "active_ppm",
        "active_matter", "required_hlb", "emulsifier_hlb", "nop_organic", "nop_organic_label", *standards.NAMES,
    }
)  # fmt: skip
# Sums of quantity times property: the mean of the two one-at-a-time effects is then exactly Bennet's share.
BILINEAR: Final = frozenset(
    {
        "cost_per_kg",
        "water",
        "formulation_water",
        "total",
        "fluoride_ppm",
        "active_ppm",
        "active_matter",
        *ORIGIN_INDICES,
        *(name for name in standards.NAMES if name != "cosmos_ppai_organic_share"),
    }
)


def matters(figure: Figure) -> bool:
    """Say whether a figure has something to say of its recipe to people; json gives them all."""
    if figure.name == "ph_estimate" and figure.value is None:
        return not ph.NOTHING & set(figure.missing)
    return figure.name not in SPECIAL or (bool(figure.value) and density.NOTHING not in figure.basis)


def figures(sums: Breakdown, terms: Terms, names: Iterable[str] = FIGURES) -> dict[str, Figure]:
    """Compute figures by name."""
    return {name: FIGURES[name](sums, terms) for name in names}


def figure_name(typed: str) -> str:
    """Give the name of a figure as it was typed: ``cost per kg`` as reports write it, or ``cost-per-kg``."""
    return "_".join(typed.replace("-", " ").replace("_", " ").split())
