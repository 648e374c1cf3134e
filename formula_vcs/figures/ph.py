"""The pH of a recipe as its acids, bases and salts balance: an estimate with a range, or what is not known for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.chemistry.equilibrium import MOST_STRENGTH, ChargeBalance, balance, fractions
from formula_vcs.chemistry.tables import load
from formula_vcs.figures.acidity import TRACE, WEIGHED, Tally, allowance, tally
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled_water

CAUTION: Final = "estimate for 25 degC; it replaces no measurement"
NO_WATER: Final = "no water: nothing dissociates"
NO_ACID: Final = "no acid or base whose constants are known"
NOTHING: Final = frozenset({NO_WATER, NO_ACID})  # a product of which no pH is asked
LEAST_WATER: Final = 5.0
MOST_ALCOHOL: Final = 20.0
MOST_POLYOL: Final = 40.0
_CAN_BE: Final = (0.5, 13.8)
_UNBUFFERED: Final = 5e-4
_WIDEST: Final = 4.0
_MOST_BORIC: Final = 0.05
_SAPONIFIES: Final = 9.5
_GAS_BELOW: Final = 7.0
_ION_PAIRS: Final = 12.0  # above it hydroxide pairs with metal ions, which is not counted


class PhEstimate(NamedTuple):
    """The pH and the range that it may lie in, what has to be said of it; or what is missing, and then no number."""

    pH: float | None
    low: float
    high: float
    missing: tuple[str, ...]
    basis: tuple[str, ...]


class Settled(NamedTuple):
    """Where a recipe's charges balance, what it is made of and its water in %; or what is missing for that."""

    at: ChargeBalance | None
    found: Tally
    water: float
    missing: tuple[str, ...]


def estimate(sums: Breakdown) -> PhEstimate:
    """Estimate the pH of a recipe; worked out once a formula."""
    return sums.cached("pH", lambda: _estimate(settled(sums)))


def ph_estimate(sums: Breakdown, _: Terms) -> Figure:
    """The pH as a figure, to two decimals, with its range."""
    found = estimate(sums)
    if found.pH is None:
        return Figure("ph_estimate", None, "", found.missing, (CAUTION,), estimate=True)
    low, value, high = (Fraction(round(number * 100), 100) for number in (found.low, found.pH, found.high))
    return Figure("ph_estimate", value, "", (), found.basis, estimate=True, span=(low, high))


def settled(sums: Breakdown) -> Settled:
    """Find where the charges of a recipe balance, without how far off that may be; worked out once a formula."""
    return sums.cached("charges", lambda: _settled(sums))


def _settled(sums: Breakdown) -> Settled:
    missing = unsettled_water(sums) + [f"{name}: no composition" for name in sums.unnamed]
    water = float(sums.substances.get("aqua", Fraction(0)))
    if missing or water <= 0:
        return Settled(None, Tally(), water, tuple(missing or [NO_WATER]))
    found = tally(sums)
    missing = list(_lacking(found, water))
    at = None if missing else balance(found.solution(water))
    if not missing and (at is None or not _CAN_BE[0] <= at.pH <= _CAN_BE[1]):
        missing = [*_saponified(found), f"it lies outside what can be computed, pH {_CAN_BE[0]} to {_CAN_BE[1]}"]
    elif at is not None:
        missing = list(_refused(found, at, water))
    return Settled(None if missing else at, found, water, tuple(missing))


def _estimate(whole: Settled) -> PhEstimate:
    at, found, water, missing = whole
    if at is None:
        return _not_known(missing)
    low, high = _span(found, at, water)
    if high - low > _WIDEST:
        return _not_known([f"nothing in it holds the pH: it may be {low:.1f} to {high:.1f}"])
    return PhEstimate(at.pH, low, high, (), tuple(_basis(found, at, low, high)))


def _not_known(missing: Sequence[str]) -> PhEstimate:
    return PhEstimate(None, 0.0, 14.0, tuple(missing), (CAUTION,))


# What must be known before anything is computed


def _lacking(found: Tally, water: float) -> Iterator[str]:
    """Name what is not known; more than one thing may be."""
    if water < LEAST_WATER:
        yield f"solvent: {water:.3g} % water, and the constants are those of water"
    for solvent, most in (("alcohol", MOST_ALCOHOL), ("polyol", MOST_POLYOL)):
        share = 100 * found.solvents[solvent] / (water + found.solvents[solvent])
        if share > most:
            name = "polyols" if solvent == "polyol" else solvent
            yield f"solvent: the water phase is {share:.0f} % {name}, and the constants are those of water"
    yield from found.own_pH
    if sum(found.unknown.values()) > TRACE:
        yield from (f"{name}: in no list of acids, bases and neutral substances" for name in found.unknown)
    for kind, left in found.kinds.items():
        if left.pct > (kind.most if kind.most is not None else 100 if kind.neutral else TRACE):
            above = "" if kind.most is None or not kind.most > TRACE else f", above {kind.most:g} %"
            yield from (f"{name}: {kind.says}{above}" for name in left.names)
    yield from _reacting(found, water)
    if not found.acids and not found.base and not found.own_pH:
        yield NO_ACID


def _reacting(found: Tally, water: float) -> Iterator[str]:
    """Name what does more than dissociate."""
    if found.soapers and found.alkalis:
        yield f"{found.soapers[0]}: soap with {found.alkalis[0]}; about 8 to 10.5, measure it"
    rows = load("acids")["acids"]
    for name, amount in found.acids.items():
        row = rows[name]
        if row.get("chelates") and found.polyvalent:
            yield f"{row['title']}: {found.polyvalent[0]} binds it and sets acid free"
        if row.get("polyborate") and (amount * 1000 / water > _MOST_BORIC or found.solvents["polyol"] > 1):
            yield f"{row['title']}: with polyols, or above 0.05 mol/kg, it is a stronger acid than its constant says"


# What the answer itself forbids


def _refused(found: Tally, at: ChargeBalance, water: float) -> Iterator[str]:
    """Say why a result is none."""
    if at.strength > MOST_STRENGTH:
        yield (
            f"ionic strength {at.strength:.2g} mol/kg: Davies' activities hold to {MOST_STRENGTH:g} mol/kg "
            "(too much salt, acid or alkali)"
        )
        return
    for kind, left in found.kinds.items():
        if kind.ph is not None and not kind.ph[0] <= at.pH <= kind.ph[1]:
            yield f"{left.names[0]}: {kind.says}; neutral at pH {kind.ph[0]:g} to {kind.ph[1]:g} only"
    if at.pH > _SAPONIFIES:
        yield from _saponified(found)
    rows = load("acids")["acids"]
    for name, amount in found.acids.items():
        row = rows[name]
        if row.get("gas") and at.pH < _GAS_BELOW:
            yield f"{row['title']}: below pH {_GAS_BELOW:g} carbon dioxide escapes, and the pH drifts"
        limit = row.get("solubility")
        free = fractions(at.pH, row["pka"])[0] * amount * row["molar_mass"] / water * 100
        if limit is not None and free > 1.5 * limit["pct"]:
            yield (
                f"{row['title']}: {free:.2g} % of the water would be free acid, and water dissolves {limit['pct']:g} %"
            )


def _saponified(found: Tally) -> Iterator[str]:
    if found.oils["ester"] > 1 and found.alkalis:
        yield f"{found.alkalis[0]}: above pH {_SAPONIFIES:g} it turns oils and esters into soap; measure it"


# How far off it may be


def _span(found: Tally, at: ChargeBalance, water: float) -> tuple[float, float]:
    """The range: what may be there besides, the constants by what they hold of the buffer, and the method."""
    besides = allowance(found, water)
    ends = [balance(found.solution(water, sign * besides, sign * WEIGHED)) for sign in (-1, 1)]
    low, high = (end.pH if end is not None else bound for end, bound in zip(ends, _CAN_BE, strict=True))
    rows = load("acids")["acids"]
    off = 0.02 + 0.18 * max(0.0, at.strength - 0.1) / 0.4
    off += sum(part * rows[name]["off"] for name, part in zip(found.acids, at.parts, strict=True)) / at.capacity
    polyol = 100 * found.solvents["polyol"] / (water + found.solvents["polyol"])
    off += 0.15 if polyol > 20 else 0.05 if polyol > 10 else 0.0
    alcohol = 100 * found.solvents["alcohol"] / (water + found.solvents["alcohol"])
    off += alcohol / 100
    if sum(found.oils.values()) > 5 and any(rows[name].get("oily") for name in found.acids):
        off += 0.1
    if any(rows[name].get("gas") for name in found.acids):
        off += 0.2
    if at.pH > _ION_PAIRS:
        off += 0.1
    if at.capacity < _UNBUFFERED:
        off = max(off, 1.0)
    return min(low, at.pH) - off, max(high, at.pH) + off


def _basis(found: Tally, at: ChargeBalance, low: float, high: float) -> Iterator[str]:
    rows = load("acids")["acids"]
    yield f"counted: {', '.join(found.titles) or 'alkali'}; 25 degC, activities by Davies"
    if at.capacity < _UNBUFFERED:
        yield f"nothing in it holds the pH: it may be {low:.1f} to {high:.1f}"
    parts = dict(zip(found.acids, at.parts, strict=True))
    memory = [rows[name]["title"] for name in found.acids if rows[name]["verified"] != "seen"]
    if memory:
        yield f"constants from memory: {', '.join(memory)}"
    heavy = [
        rows[name]["title"] for name in found.acids if rows[name]["off"] >= 0.1 and parts[name] > 0.2 * at.capacity
    ]
    if heavy:
        yield f"it hangs on a constant that is not well known: {', '.join(heavy)}"
    if found.by_titre:
        yield f"by the file's own acid or alkali, its buffering not counted: {', '.join(found.by_titre)}"
    left = [name for kind, some in found.kinds.items() if not kind.neutral for name in some.names]
    if left or found.unknown:
        yield f"left out, little as it is: {', '.join((*left, *found.unknown))}"
    yield from found.says
    yield CAUTION
