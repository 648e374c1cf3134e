"""What preserves a recipe: the systems that are in it, what they are said to cover, and whether it needs any.

An estimate.  It replaces no challenge test: what a preservative does in a product is found by trying (ISO 11930).
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final, NamedTuple

from formula_vcs.chemistry.equilibrium import fractions
from formula_vcs.chemistry.substances import forms_of, kind_of
from formula_vcs.chemistry.tables import load
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled_water
from formula_vcs.figures.low_risk import MET, low_risk
from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.figures.water_activity import water_activity
from formula_vcs.model.pair import class_tag
from formula_vcs.model.product import has_two_waters
from formula_vcs.model.quantity import Range

# --- Weak-acid preservatives of a recipe: how much of each is free at its pH, in the water phase


CAUTION: Final = "estimate: ideal solution at 25 degC; it replaces no challenge test"
CAN_BE: Final = (-2.0, 16.0)
_NO_WATER: Final = "no water: nothing dissociates"


class Acid(NamedTuple):
    """A weak acid in a recipe: ``total`` % w/w of the product as free acid, ``row`` its row in the table of acids."""

    name: str
    title: str
    total: Fraction
    row: dict[str, Any]

    def free(self, pH: float) -> float:
        """The undissociated fraction at a pH, 0 to 1."""
        return fractions(pH, self.row["pka"])[0]


class Free(NamedTuple):
    """The free acid of one preservative at both ends of a pH range: % of all of it, and % w/w of the water phase."""

    acid: Acid
    pH: tuple[float, float]
    fraction: tuple[float, float]
    in_water: tuple[float, float]


def weak_acids(sums: Breakdown) -> list[Acid]:
    """The weak acids that preserve a recipe, salts counted as their acid."""
    rows = load("acids")["acids"]
    totals: dict[str, Fraction] = {}
    for inci, pct in sums.substances.items():
        for form in forms_of(inci, sums.names[inci][1]) if pct else ():
            if rows[form.acid].get("preservative"):
                moles = pct * Fraction(str(form.units)) / Fraction(str(form.molar_mass))
                acid = moles * Fraction(str(rows[form.acid]["molar_mass"]))
                totals[form.acid] = totals.get(form.acid, Fraction(0)) + acid
    return [Acid(name, rows[name]["title"], totals[name], rows[name]) for name in rows if name in totals]


def is_buffer(inci: str) -> bool:
    """Say whether a substance (folded INCI name) is the salt of a weak acid that the table has."""
    rows = load("acids")["acids"]
    return any(form.base and not rows[form.acid]["charge"] for form in forms_of(inci))


def brings_preservative(inci: str) -> bool:
    """Say whether a substance (folded INCI name) is or brings a weak acid that preserves."""
    rows = load("acids")["acids"]
    return any(rows[form.acid].get("preservative") for form in forms_of(inci))


def spec_range(sums: Breakdown) -> tuple[float, float] | None:
    """The pH range of the spec; None where there is none, an end is open, or no pH can be that far out."""
    span: Range | None = sums.formula.recipe.spec.get("pH")
    if span is None or span.low is None or span.high is None:
        return None
    low, high = float(span.low.base), float(span.high.base)
    return (low, high) if CAN_BE[0] <= low and high <= CAN_BE[1] else None


def free_acids(sums: Breakdown) -> list[Free]:
    """Each weak-acid preservative over the recipe's pH range; empty without a range or without one water phase."""
    return [] if has_two_waters(sums.formula.recipe.get("emulsion")) else free_in_all_water(sums)


def free_in_all_water(sums: Breakdown) -> list[Free]:
    """The same as if all water of a product were one phase.

    Where it is not, the part of an acid that is free still holds, and its % of the water does not.
    """
    span = spec_range(sums)
    wet = float(water_pct(sums))
    if span is None or wet <= 0:
        return []
    return [_free(acid, span, wet) for acid in weak_acids(sums)]


def _free(acid: Acid, span: tuple[float, float], wet: float) -> Free:
    low, high = acid.free(span[0]), acid.free(span[1])
    total = float(acid.total)
    return Free(acid, span, (low, high), tuple(_of_phase(total * part, wet) for part in (low, high)))  # type: ignore[arg-type]


def _of_phase(free: float, wet: float) -> float:
    """Give % of the water phase, water and acid together, the oil's share not taken off."""
    return 100 * free / (wet + free)


def water_pct(sums: Breakdown) -> Fraction:
    """All water in % of the product, that inside materials included."""
    return sums.substances.get("aqua", Fraction(0))


def said(free: Free) -> str:
    """Say a free acid: ``free benzoic acid 0.068 to 0.031 % of the water phase (20 to 9 % of it) at pH 4.8 to 5.2``."""
    low, high = free.in_water
    return (
        f"free {free.acid.title} {low:.3f} to {high:.3f} % of the water phase "
        f"({_parts(free)} % of it) at pH {free.pH[0]:g} to {free.pH[1]:g}"
    )


def said_of_all(free: Free) -> str:
    """Say a free acid where its water is no one phase: ``free benzoic acid 20 to 9 % of it at pH 4.8 to 5.2``."""
    return f"free {free.acid.title} {_parts(free)} % of it at pH {free.pH[0]:g} to {free.pH[1]:g}"


def _parts(free: Free) -> str:
    return f"{100 * free.fraction[0]:.3g} to {100 * free.fraction[1]:.3g}"


def _lacking(sums: Breakdown) -> list[str]:
    missing = unsettled_water(sums) + [f"{name}: no composition" for name in sums.unnamed]
    if spec_range(sums) is None:
        missing.append("the spec states no pH range")
    return missing


def free_acid(sums: Breakdown, _: Terms) -> Figure:
    """The free weak-acid preservatives at the highest pH of the spec, in % of the water phase, all together."""
    missing = _lacking(sums)
    if not water_pct(sums) and not missing:
        missing.append(_NO_WATER)
    if missing:
        return Figure("free_acid", None, "%", tuple(missing), (CAUTION,), estimate=True)
    found = free_acids(sums)
    value = Fraction(round(sum(free.in_water[1] for free in found), 5)).limit_denominator(100_000)
    basis = (*(said(free) for free in found), *(_memory(free.acid) for free in found if _memory(free.acid)), CAUTION)
    return Figure("free_acid", value, "%", (), basis if found else ("no weak-acid preservative",), estimate=True)


def _memory(acid: Acid) -> str:
    return f"pKa of {acid.title}: from memory" if acid.row["verified"] != "seen" else ""


# --- What preserves a recipe: the systems that are in it, what they are said to cover, and whether it needs any


FUNCTION: Final = "preservative"
COVERED: Final = ("Gram-positive bacteria", "Gram-negative bacteria", "yeasts", "moulds")
LOW_ACTIVITY: Final = Fraction(3, 4)  # ISO 29621: below it nothing grows that matters
_THERE: Final = Fraction(1, 5)  # of the lower end of the usual level; less of it does not count; common practice


class System(NamedTuple):
    """A preservative in a recipe: its % of the product, its row of the table (None: its material says its function).

    ``enough`` says that there is at least a fifth of the lower end of what is usual.
    """

    title: str
    pct: Fraction
    row: dict[str, Any] | None
    names: tuple[str, ...]
    enough: bool

    @property
    def booster(self) -> bool:
        """Say whether it counts for nothing without a partner."""
        return self.row is not None and bool(self.row["booster"])


def systems(sums: Breakdown) -> tuple[System, ...]:
    """What preserves a recipe, premixes seen through; worked out once a formula."""
    return sums.cached("preservatives", lambda: _systems(sums))


def _systems(sums: Breakdown) -> tuple[System, ...]:
    table = load("preservatives")
    found: dict[int, list[tuple[str, Fraction]]] = {}
    for inci, pct in sums.substances.items():
        place = table["names"].get(inci)
        if place is not None and pct:
            found.setdefault(place, []).append((sums.names[inci][0], pct))
    known = []
    for place, parts in found.items():
        row, whole = table["rows"][place], sum((pct for _, pct in parts), Fraction(0))
        least = Fraction(str(row.get("least", 0))) or _THERE * Fraction(str(row["usual"][0]))
        known.append(System(row["title"], whole, row, tuple(name for name, _ in parts), whole >= least))
    return (*known, *_by_function(sums, table["names"]))


def _by_function(sums: Breakdown, names: dict[str, int]) -> list[System]:
    """The materials that say themselves that they preserve, and hold nothing that the table knows."""
    found = []
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if material is None or not share or not any(said.casefold() == FUNCTION for said in material.functions):
            continue
        if not any(inci in names for inci in material.inci):
            found.append(System(name, share * 100, None, (name,), enough=True))
    return found


def preserving(sums: Breakdown) -> tuple[System, ...]:
    """The systems that count: there is enough of them, and a booster has a partner."""
    there = [system for system in systems(sums) if system.enough]
    return tuple(there) if any(not system.booster for system in there) else ()


def needs_preserving(sums: Breakdown, day: datetime.date) -> bool:
    """Say whether a product has water that things grow in, and meets no criterion of ISO 29621 for low risk."""
    # neither figure asks for the day: under a key with it a verdict would hold for that day only
    return sums.cached("needs preserving", lambda: _needs_preserving(sums, day))


def _needs_preserving(sums: Breakdown, day: datetime.date) -> bool:
    if not sums.substances.get("aqua"):
        return False
    activity = water_activity(sums, Terms(day)).value
    if activity is not None and activity < LOW_ACTIVITY:
        return False
    return all(flag.verdict != MET for flag in low_risk(sums, Terms(day)))


def free_in_water(sums: Breakdown, system: System, pH: float) -> float | None:
    """The free acid of a weak-acid preservative in % of the water phase at a pH; None for what is no acid."""
    name = (system.row or {}).get("acid")
    acid = next((acid for acid in weak_acids(sums) if acid.name == name), None)
    wet = float(water_pct(sums))
    if acid is None or wet <= 0:
        return None
    free = float(acid.total) * acid.free(pH)
    return 100 * free / (wet + free)


def covered_by(system: System) -> frozenset[str]:
    """Name the germs that a system is said to work against; empty where that is not known."""
    cover = (system.row or {}).get("cover") or ()
    return frozenset(germ for germ, strength in zip(COVERED, cover, strict=False) if strength)


def uncovered(sums: Breakdown, top: float | None) -> tuple[str, ...] | None:
    """Name what no system of the recipe covers, at the highest pH where one is stated; None where one is not known."""
    there = preserving(sums)
    if not there or any(system.row is None or system.row["cover"] is None for system in there):
        return None
    covered = {germ for system in there if works_at(system, top) for germ in covered_by(system)}
    return tuple(germ for germ in COVERED if germ not in covered)


def works_at(system: System, pH: float | None) -> bool:
    """Say whether a system is inside its working range; where no pH is known, it is taken to be."""
    if system.row is None or pH is None:
        return True
    low, high = system.row["ph"]
    return bool(low <= pH <= high)


class Weakening(NamedTuple):
    """What takes a preservative's strength in a recipe: its row, the preservative, what does it and its % together."""

    row: dict[str, Any]
    system: System
    names: tuple[str, ...]
    pct: Fraction


def weakenings(sums: Breakdown) -> Iterator[Weakening]:
    """Find what binds, or takes up, a preservative of the recipe above the amount that it does so at."""
    there = {system.title: system for system in systems(sums) if system.row is not None}
    for row in load("preservatives")["weakened"] if there else ():
        found = [there[title] for title in row["of"] if title in there]
        if not found:
            continue
        names, pct = _bound_by(sums, row)
        for system in found:
            most = system.pct * row["times"] if row["times"] else Fraction(str(row["above"]))
            if pct > most:
                yield Weakening(row, system, names, pct)


def _bound_by(sums: Breakdown, row: dict[str, Any]) -> tuple[tuple[str, ...], Fraction]:
    """The substances that a row means, and their % of the product together."""
    if row["oil"]:
        oils = [inci for inci in sums.substances if (kind := kind_of(inci)) is not None and kind.oil == "ester"]
        return tuple(sums.names[inci][0] for inci in oils), sum((sums.substances[inci] for inci in oils), Fraction(0))
    whole, tags = parts_of(sums), {*row["names"], *map(class_tag, row["by"])}
    parts = [] if tags.isdisjoint(whole.tags) else whole.called(tags)
    return tuple(dict.fromkeys(part.grain.spelled for part in parts)), sum((part.pct for part in parts), Fraction(0))
