"""Demands on the process that a material may have and does not state; and one that went with a swap."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient, inci_key, is_water
from formula_vcs.rules.rule import COMMON_PRACTICE, Rule

# What [handling] asks of the process, by name, in words with {} for the value.
DEMANDS: Final[Mapping[str, str]] = {
    "shear_at_most": "{} shear at most",
    "shear_at_least": "{} shear at least",
    "shear_with": "shear with {}",
    "temp_at_most": "{} at most",
    "temp_at_least": "{} at least",
    "add_below": "being added below {}",
    "wet_with": "being wetted with {}",
    "after": "coming after {}",
    "before": "coming before {}",
    "rest": "a rest of {}",
}


def asks_for(name: str, value: object) -> str:
    """Say a demand: ``medium shear at most``, ``being wetted with humectant``."""
    said = " or ".join(value) if isinstance(value, tuple) else str(value)
    return DEMANDS[name].format(said)


class HandlingUnstated(Rule):
    """A material states its [handling] where another grade of its INCI name has demands.

    Why: a new file for a cheaper grade is thin, and what it does not state is not judged: the polishing silica of
    another supplier goes under the rotor and nobody is told.  Said by a review, of a material that comes into a recipe.
    A note, since grades differ: ask the supplier, and write down the answer, be it only `note`.

    So:
        [handling]
        note = "stands any shear, supplier's letter of 2026-03"
    """

    id = "handling-unstated"
    severity = "note"
    source = COMMON_PRACTICE
    judges = "review"


class DemandLost(Rule):
    """A material that takes the place of another states what the other one asked of the process.

    Why: what protects a grade stands in its own file.  Swap it for one whose file states nothing, and the demand is
    gone with no line deleted.  Said by a review, under the swap that did it; a check of one version cannot see it.

    So:
        [handling]
        shear_at_most = "medium"
    """

    id = "demand-lost"
    severity = "warn"
    source = "stated by the [handling] of the material that was there"
    judges = "review"


def unstated(wanted: Iterable[Ingredient], everything: Iterable[Ingredient]) -> Iterator[Finding]:
    """Ask of each wanted material that states no [handling] and has another grade with demands among all."""
    open_ones = [one for one in wanted if one.readable and one.recipe is None and not _has_handling(one)]
    if not open_ones:
        return
    by_name: dict[frozenset[str], list[Ingredient]] = {}
    for material in everything:
        if DEMANDS.keys() & material.care.keys():
            by_name.setdefault(_label_name(material), []).append(material)
    for material in open_ones:
        others = sorted(by_name.get(_label_name(material), ()), key=lambda other: other.id)
        if others and _label_name(material):
            yield _asked(material, others[0])


def _label_name(material: Ingredient) -> frozenset[str]:
    """What a label would call a material, water aside."""
    return frozenset(inci_key(name) for name in material.substances if not is_water(name))


def _has_handling(material: Ingredient) -> bool:
    return any(path[0] == "handling" for path in material.facts)


def _asked(material: Ingredient, other: Ingredient) -> Finding:
    asked = ", ".join(asks_for(name, value) for name, value in other.care.items() if name in DEMANDS)
    words = (
        f"'{material.id}' states no [handling], and '{other.id}' of the same INCI name asks for {asked}: ask the "
        "supplier, and state the answer"
    )
    rule = HandlingUnstated
    return Finding(rule.id, rule.severity, words, material.file, source=rule.source, subject=material.id)


def all_of(names: Iterable[str], read: Callable[[str], Ingredient | None]) -> list[Ingredient]:
    """Read the materials of some names, those that there are."""
    return [found for found in map(read, names) if found is not None]
