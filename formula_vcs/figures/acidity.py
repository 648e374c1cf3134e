"""What a recipe's substances bring to its pH: acids and bases, ions, what is neutral by its class, what is not known.

Every substance is one of: known (a row of the table of acids, a strong acid or alkali, a salt), known by its material's
own titre, neutral by class, or not known.  Nothing is left out in silence.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any, Final

from formula_vcs.chemistry import substances
from formula_vcs.chemistry.equilibrium import Solution, Weak
from formula_vcs.chemistry.substances import Kind, salt_of
from formula_vcs.chemistry.tables import load
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass, field

WEIGHED: Final = 0.01  # an alkali or an amine is weighed and assayed to; common practice
TRACE: Final = 0.05  # % of the product: not known substances up to here are left out, and named
_FREE_IONS: Final = 0.3  # share of the counter-ions that leave a micelle or a polymer; from memory
_OF_TRACES: Final = 5.0  # mmol of acid or alkali in a gram of what is not known, at the most


@dataclass(slots=True)
class Left:
    """The substances of one kind: its % of the product, and the names."""

    pct: float = 0.0
    names: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Tally:
    """All of a product that bears on its pH, for 100 g of it.

    ``acids`` is {row: mol}, ``base`` the strong alkali in mol with what salts bring, ``added`` the part of it that is
    added as such, ``amines`` and ``amine_base`` what of both is added as an amine, ``ions`` the ionic strength times
    the kg of water, ``titre`` the mmol that what is neutral may bring.
    """

    acids: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    titles: dict[str, None] = field(default_factory=dict)
    base: float = 0.0
    added: float = 0.0
    amines: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    amine_base: float = 0.0
    ions: float = 0.0
    titre: float = 0.0
    alkalis: list[str] = field(default_factory=list)
    polyvalent: list[str] = field(default_factory=list)
    soapers: list[str] = field(default_factory=list)
    kinds: dict[Kind, Left] = field(default_factory=dict)
    unknown: dict[str, float] = field(default_factory=dict)
    own_pH: list[str] = field(default_factory=list)
    solvents: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    oils: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    says: list[str] = field(default_factory=list)
    by_titre: list[str] = field(default_factory=list)

    def solution(self, water: float, base: float = 0.0, more: float = 0.0) -> Solution:
        """Give it as a solution in ``water`` % of the product, with another ``base`` in mol for 100 g.

        ``more`` is the share by which more of every amine is in it.
        """
        per_kg = 1000 / water
        rows = load("acids")["acids"]
        weak = tuple(
            Weak(
                (amount + more * self.amines.get(name, 0.0)) * per_kg,
                tuple(rows[name]["pka"]), rows[name]["charge"], rows[name].get("spread", 1.0),
            )
            for name, amount in self.acids.items()
        )  # fmt: skip
        return Solution(weak, (self.base + base + more * self.amine_base) * per_kg, self.ions * per_kg)


def tally(sums: Breakdown) -> Tally:
    """Take a product apart, each material and each substance in it; worked out once a formula."""
    return sums.cached("acidity", lambda: _tally(sums))


def _tally(sums: Breakdown) -> Tally:
    found = Tally()
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if material is not None and share:
            _material(found, name, float(share), material)
    return found


def titre_of(material: Ingredient) -> float | None:
    """The mmol of strong alkali (acid below 0) in a gram that a material's file states; None where it does not."""
    acid, alkali = (material.get(key, kind=Quantity) for key in ("acid", "alkali"))
    if acid is None and alkali is None:
        return None
    return sum(sign * float(stated.base) for sign, stated in ((-1, acid), (1, alkali)) if stated is not None)


def _material(found: Tally, name: str, share: float, material: Ingredient) -> None:
    stated = titre_of(material)
    if stated is not None:
        moles = stated * share * 100 / 1000
        found.base += moles
        found.added += abs(moles)
        found.ions += abs(moles) / 2
        found.by_titre.append(name)
    neutral = stated is None
    for inci, spelled, cas, pct in _contents(material):
        of_product = share * pct
        kind = _one(found, inci, cas, of_product, material, stated=stated is not None, spelled=spelled)
        neutral = neutral and kind is not None and kind.neutral
    own = material.get("spec", "pH", kind=Range)
    if neutral and own is not None and _far(own):
        found.own_pH.append(f"{name}: its acid or alkali is not known, and its pH is {own}")


def _contents(material: Ingredient) -> Iterator[tuple[str, str, str, float]]:
    for spelled, pct in material.substances.items():
        if pct:
            yield inci_key(spelled), spelled, material.get("substances", spelled, "cas") or "", float(pct)


def _one(
    found: Tally, inci: str, cas: str, pct: float, material: Ingredient, *, stated: bool, spelled: str
) -> Kind | None:
    """Count one substance; what a titre speaks for already counts only as solvent and oil.  Give its kind, if any."""
    if not stated and _known(found, inci, cas, pct, spelled):
        return None
    kind = substances.kind_of(inci) or substances.kind_by_function(inci, material.functions)
    if kind is None:
        if not stated:
            found.unknown[spelled] = found.unknown.get(spelled, 0.0) + pct
        return None
    if kind.solvent:
        found.solvents[kind.solvent] += pct
    if kind.oil:
        found.oils[kind.oil] += pct
    if not stated:
        left = found.kinds.setdefault(kind, Left())
        left.pct += pct
        if spelled not in left.names:
            left.names.append(spelled)
        if kind.soap:
            found.soapers.append(spelled)
        found.ions += _FREE_IONS * pct / kind.ionic / 2 if kind.ionic else 0.0
    return kind


def _known(found: Tally, inci: str, cas: str, pct: float, spelled: str) -> bool:
    """Count a substance that is an acid, a base or a salt of them."""
    strong = substances.strong_of(inci)
    if strong is not None:
        moles = pct / strong[0] * strong[1]
        found.base += moles
        found.added += abs(moles)
        found.ions += abs(moles) / 2
        found.titles[spelled.casefold()] = None
        if moles > 0:
            found.alkalis.append(spelled)
        return True
    salt = salt_of(inci)
    if salt is not None:
        found.ions += pct / salt.molar_mass * salt.strength
        if salt.valence > 1 and inci not in ("sodium sulfate", "potassium sulfate") and pct > TRACE:
            found.polyvalent.append(spelled)
        return True
    rows = load("acids")["acids"]
    forms = substances.forms_of(inci, cas)
    for form in forms:
        row = rows[form.acid]
        moles = pct / form.molar_mass
        found.acids[form.acid] += moles * form.units
        found.base += moles * form.base
        inert = abs(form.base - row["charge"] * form.units)
        found.ions += moles * inert * form.ion / 2
        found.titre += 10 * pct * row.get("titre", 0.0)
        found.titles[row["title"]] = None
        if form.base and _is_alkali(row):
            found.alkalis.append(spelled)
            found.amines[form.acid] += moles * form.units
            found.amine_base += moles * form.base
        if form.ion > 1 and pct > TRACE:
            found.polyvalent.append(spelled)
    said = substances.said_of(inci) if forms else ""
    if said and said not in found.says:
        found.says.append(said)
    return bool(forms)


def _is_alkali(row: dict[str, Any]) -> bool:
    """Say whether a row is an amine, or an amino acid with one more amine, that neutralises as a base."""
    return bool(row["charge"]) and max(row["pka"]) > 7 and (len(row["pka"]) == 1 or row["charge"] == 2)


def _far(own: Range) -> bool:
    """Say whether a material is far from neutral: below pH 4 or above pH 9."""
    return (own.high is not None and own.high.base < 4) or (own.low is not None and own.low.base > 9)


def allowance(found: Tally, water: float) -> float:
    """The mol of acid or alkali for 100 g that may be there besides: traces, what is neutral, weighing, air.

    The air's carbon dioxide is 0.02 mmol in a kg of water; an alkali added as such is weighed and assayed to 1 %.
    """
    mmol = found.titre + sum(10 * left.pct * kind.titre for kind, left in found.kinds.items())
    mmol += 10 * sum(found.unknown.values()) * _OF_TRACES
    return mmol / 10_000 + WEIGHED * found.added + 2e-5 * water / 1000
