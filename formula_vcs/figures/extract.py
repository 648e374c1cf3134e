"""An extract's indices and shares out of its making, by the formulas of ISO 16128-2 and of the COSMOS-standard.

A concentrate of ratio R (200 : 1) takes up at most (R - 1) times its mass; water beyond that is plain water.
Counted with the plant by ISO 16128-2:2017 (reconstitution water, Annex B) and by COSMOS practice (secondary sources;
the cap is ours); not counted by the Austrian food code 6.4.2, and left out as water by 7 CFR 205.302.

Masses are those put in, except the extract, which is what came out.  What is computed here is kept apart from what a
supplier declares and is always called computed.

* k, fresh to dry plant: wood, bark, seed, nut, root 2.5; leaf, flower, aerial part 4.5; fruit 5; watery fruit 8
  (ISO 16128-2:2017, Annex B: flower read; others fit public registry entries; fruit from memory).
* Reconstitution water = min(k x dry - dry, water); the rest of the water is extraction water (Annex B, read).
* Organic index = 1 - (natural solvents + derived solvents) / all put in, extraction water included (Annex B, read).
* COSMOS: fresh plant / extract, at most 1, for water extracts (fits registry entries); with other solvents the plant's
  part is taken on what is not solvent (from memory, fits an entry); without water on what was put in (from memory).
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED, Composition
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass

# --- Water that puts a dried or concentrated plant back: tied to its concentrate by ``rebuilds``, with a cap


def rebuilt(sums: Breakdown) -> dict[str, tuple[str, Fraction]]:
    """The water counted with each concentrate: ``{concentrate: (water material, share of the product)}``."""
    return sums.cached("rebuilt", lambda: _rebuilt(sums))


def _rebuilt(sums: Breakdown) -> dict[str, tuple[str, Fraction]]:
    found = _within(sums, sums.composition)
    for name in sums.formula.order:
        premix = sums.formula.premix_of(name)
        inside = _within(sums, sums.premix(premix.id)) if premix is not None else {}
        if not inside:
            continue
        share = _share(sums, name)
        for concentrate, (water, part) in inside.items() if share else ():
            known = found.get(concentrate, (water, Fraction(0)))
            found[concentrate] = (known[0], known[1] + part * share)
    return found


def _share(sums: Breakdown, premix: str) -> Fraction:
    return sums.spread(lambda material: material.id == premix).get(premix, Fraction(0))


def _within(sums: Breakdown, composition: Composition) -> dict[str, tuple[str, Fraction]]:
    tied: dict[str, tuple[str, Fraction]] = {}
    shares = composition.by_ingredient()
    for line in composition.lines:
        concentrate = line.charge.more.get("rebuilds")
        if isinstance(concentrate, str) and concentrate in shares:
            water, known = tied.get(concentrate, (line.charge.ingredient, Fraction(0)))
            tied[concentrate] = (water, known + line.pct / HUNDRED)
    found: dict[str, tuple[str, Fraction]] = {}
    for concentrate, (water, part) in tied.items():
        material = sums.formula.ingredients.get(concentrate)
        ratio = material.get("concentrate", "ratio", kind=Decimal) if material is not None else None
        if ratio is not None and ratio > 1:
            cap = (Fraction(ratio) - 1) * shares[concentrate] / HUNDRED
            found[concentrate] = (water, min(part, cap))
    return found


# --- An extract's indices and shares out of its making, by the formulas of ISO 16128-2 and of the COSMOS-standard


K: Final = {
    **dict.fromkeys(("wood", "bark", "seed", "nut", "root"), Fraction(5, 2)),
    **dict.fromkeys(("leaf", "flower", "aerial part"), Fraction(9, 2)),
    "fruit": Fraction(5),
    "watery fruit": Fraction(8),
}
COMPUTED: Final = "computed from [made]"
ONE: Final = Fraction(1)


@dataclass(frozen=True, slots=True)
class Solvent:
    """A solvent other than water: its mass (kg), its ISO 16128 kind and its organic share (0 to 1, None unknown)."""

    name: str
    mass: Fraction
    kind: str
    organic: Fraction | None


@dataclass(frozen=True, slots=True)
class ExtractMaking:
    """How an extract was made: masses in kg; ``organic`` says whether the plant is (None: not said)."""

    k: Fraction
    dry: Fraction
    fresh: Fraction
    water: Fraction
    extract: Fraction | None
    organic: bool | None
    solvents: tuple[Solvent, ...]

    @property
    def rebuilt(self) -> Fraction:
        """The reconstitution water: what brings the dry plant back to its fresh mass, at most the water there."""
        return min(self.dry * self.k - self.dry, self.water) if self.dry else Fraction(0)

    @property
    def whole(self) -> Fraction:
        """All that was put in."""
        return self.dry + self.fresh + self.water + sum((solvent.mass for solvent in self.solvents), Fraction(0))

    @property
    def plant(self) -> Fraction:
        """The plant as fresh."""
        return self.fresh + self.dry * self.k

    @property
    def other(self) -> Fraction:
        """The solvents other than water."""
        return sum((solvent.mass for solvent in self.solvents), Fraction(0))


def made(ingredient: Ingredient) -> ExtractMaking | str | None:
    """Read how a material was made; None where it says nothing of it, a str where something is missing."""
    if not any(path[0] == "made" for path in ingredient.facts):
        return None
    part = ingredient.get("made", "part")
    dry, fresh, water, extract = (_mass(ingredient, name) for name in ("dry_plant", "fresh_plant", "water", "extract"))
    if dry is None and fresh is None:
        return "neither 'dry_plant' nor 'fresh_plant' in [made]"
    if dry is not None and part not in K:
        return "no 'part' of the plant in [made]"
    organic = ingredient.facts.get(("made", "organic"))
    names = dict.fromkeys(path[2] for path in ingredient.facts if path[:2] == ("made", "solvents") and len(path) > 3)
    solvents = tuple(
        Solvent(
            name,
            _mass(ingredient, "solvents", name, "mass") or Fraction(0),
            ingredient.get("made", "solvents", name, "kind") or "",
            ingredient.get("made", "solvents", name, "organic", kind=Fraction),
        )
        for name in names
    )
    return ExtractMaking(
        K.get(part or "", ONE),
        dry or Fraction(0),
        fresh or Fraction(0),
        water or Fraction(0),
        extract,
        organic if isinstance(organic, bool) else None,
        solvents,
    )


def _mass(ingredient: Ingredient, *path: str) -> Fraction | None:
    found = ingredient.get("made", *path, kind=Quantity)
    return found.base if isinstance(found, Quantity) and found.dimension == "mass" else None


def index(making: ExtractMaking, name: str) -> Fraction | str:
    """An ISO 16128 index (natural, natural_origin, organic, organic_origin), 0 to 1; a str is what is missing."""
    strange = [solvent.name for solvent in making.solvents if solvent.kind not in _KINDS]
    if strange:
        return f"no 'kind' of solvent '{strange[0]}' in [made]"
    if any(solvent.kind == "non-natural" for solvent in making.solvents):
        return Fraction(0)  # such an extract is non-natural as a whole, not by its share (secondary sources)
    if name == "natural_origin":
        return ONE
    derived = sum((solvent.mass for solvent in making.solvents if solvent.kind == "derived"), Fraction(0))
    if name == "natural":
        return ONE - derived / making.whole
    return _organic(making, origin=name == "organic_origin")


_KINDS: Final = ("natural", "derived", "non-natural")


def _organic(making: ExtractMaking, *, origin: bool) -> Fraction | str:
    if making.organic is None:
        return "'organic' in [made] does not say whether the plant is"
    mass = making.dry + making.fresh + making.rebuilt if making.organic else Fraction(0)
    for solvent in making.solvents:
        if solvent.organic is None:
            return f"no 'organic' of solvent '{solvent.name}' in [made]"
        if solvent.kind == "natural" or origin:
            mass += solvent.mass * solvent.organic
    return mass / making.whole


@dataclass(frozen=True, slots=True)
class Shares:
    """The COSMOS shares of an extract in % of it; ``organic`` parts None where it is not known."""

    ppai: Fraction
    ppai_organic: Fraction | None
    cpai: Fraction
    cpai_organic: Fraction | None


def cosmos_shares(making: ExtractMaking) -> Shares | str:
    """The COSMOS shares of an extract; a str is what is missing."""
    base = making.extract if making.water else making.whole
    if base is None or not base:
        return "no 'extract' (the mass that came out) in [made]"
    plant = making.plant if making.water else making.dry + making.fresh
    room = base - making.other if making.water else plant
    ppai = min(plant, max(room, Fraction(0))) / base * 100
    known = all(solvent.organic is not None for solvent in making.solvents)
    organic = sum((solvent.mass * (solvent.organic or 0) for solvent in making.solvents), Fraction(0)) / base * 100
    return Shares(
        ppai,
        None if making.organic is None else ppai if making.organic else Fraction(0),
        making.other / base * 100,
        organic if known else None,
    )
