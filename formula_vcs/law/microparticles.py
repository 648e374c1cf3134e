"""Synthetic polymer microparticles, as Regulation (EC) No 1907/2006, Annex XVII, entry 78 has them, in one recipe.

A polymer is one where it is solid, in or on particles of 5 mm and less, and is neither natural and unmodified, nor
degradable, nor soluble above 2 g/L, nor free of carbon (paragraph 2 and what it leaves out: read in the words of
regulators and of the trade, not in the text).  None of that shows in an INCI name, so a material states it in
``[polymer]``; what a file does not state is asked for.  Names of polymers that are commonly sold as powders, beads or
flakes are a list of our own; any other polymer is judged only where its file has a ``[polymer]``.
"""

from __future__ import annotations

from collections.abc import Iterator
from fnmatch import fnmatchcase
from fractions import Fraction
from functools import lru_cache
from typing import Final, NamedTuple

from formula_vcs.law.claims.contents import materials
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.facts import readable
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Range

# Paragraph 1: in mixtures of 0.01 % by weight and more.
LEAST: Final = Fraction(1, 100)
# Paragraph 2(b): all dimensions of 5 mm or less, or 15 mm or less and more than three times as long as thick.
_LARGEST, _LONGEST = Fraction(5, 1000), Fraction(15, 1000)  # m
BEADS: Final = "microbeads"
SCENT: Final = "fragrance"
RELEASED: Final = "derogated"
_SCRUBBING: Final = frozenset({"abrasive", "exfoliant", "exfoliating", "exfoliator", "scrub", "polishing", "scrubbing"})
_EXCLUDED: Final = {
    "degradable": "degradable, as its file states",
    "soluble": "soluble above 2 g/L, as its file states",
    "natural": "natural and not modified, as its file states",
    "carbon_free": "free of carbon, as its file states",
}
# fmt: off
_SOLID: Final = (
    "polyethylene", "oxidized polyethylene", "polypropylene", "polystyrene", "polytetrafluoroethylene", "nylon-*",
    "polyamide-*", "polymethyl methacrylate", "methyl methacrylate crosspolymer", "*methacrylate* crosspolymer",
    "polyethylene terephthalate", "polybutylene terephthalate", "*terephthalate copolymer", "polyurethane-*",
    "hdi/trimethylol hexyllactone crosspolymer", "polylactic acid", "polymethylsilsesquioxane", "*silsesquioxane*",
    "*dimethicone*crosspolymer*", "styrene/acrylates copolymer", "acrylates crosspolymer", "acrylonitrile/*",
    "sodium acrylates crosspolymer-*", "sodium polyacrylate starch", "ethylene/acrylic acid copolymer",
    "ethylene/va copolymer", "cellulose acetate", "polyvinyl chloride", "polyethylene isoterephthalate",
)
# fmt: on


class PolymerPart(NamedTuple):
    """The polymer that one material brings: ``pct`` of the product, and whether it is a microparticle.

    ``sure`` is True where the file says all that makes it one, False where it says what makes it none (``why``), None
    where it does not say.  ``for_what`` is "microbeads", "fragrance" (encapsulated), "derogated" (paragraph 5: no
    release is to be feared in use) or "".
    """

    material: str
    keys: tuple[str, ...]
    names: str
    pct: Fraction
    sure: bool | None
    why: str
    for_what: str


def polymers(found: Compliance) -> tuple[PolymerPart, ...]:
    """The polymers in a recipe that are, or may be, solid particles."""
    return tuple(_parts(found))


def _parts(found: Compliance) -> Iterator[PolymerPart]:
    for name, material in materials(found, lambda _: True):
        stated = any(path[0] == "polymer" for path in material.facts)
        names = _names(found, name, material, stated=stated)
        if not names:
            continue
        held = found.content(name)
        pct = found.sums.leaves[name] * sum((held[key].pct for key in names), Fraction(0))
        sure, why = _state(material)
        spelled = ", ".join(held[key].spelled for key in names)
        yield PolymerPart(name, tuple(names), spelled, pct, sure, why, _for_what(material))


def _names(found: Compliance, name: str, material: Ingredient, *, stated: bool) -> list[str]:
    """Name what of a material is a polymer: what its file names, what our list has, else, where it states any, all."""
    held = found.content(name)
    named = material.get("polymer", "of")
    if named is not None:
        own = [key for key, one in held.items() if one.spelled.casefold() == named.casefold()]
        return own or list(held)
    listed = [key for key in held if _is_listed(key)]
    return listed or (list(held) if stated else [])


@lru_cache(maxsize=16384)
def _is_listed(key: str) -> bool:
    return any(fnmatchcase(key, pattern) for pattern in _SOLID)


def _state(material: Ingredient) -> tuple[bool | None, str]:
    """Say whether the polymer of a material is a microparticle, and why it is none, or what is not stated."""
    excluded = next((why for key, why in _EXCLUDED.items() if material.get("polymer", key, kind=bool)), "")
    if excluded:
        return False, excluded
    particles = material.get("polymer", "particles", kind=bool)
    if particles is False:
        return False, "in no solid particles, as its file states"
    size = readable(material.facts.get(("polymer", "size")), Range)
    low = None if size is None or size.low is None else size.low.base
    if particles and low is not None and low > _LONGEST:
        return False, f"larger than 15 mm, as its file states ({size})"
    if particles and (low is None or low <= _LARGEST):
        return True, ""
    if particles:
        return None, f"whether its particles of {size} are more than three times as long as thick"
    return None, "whether it is in solid particles ([polymer] particles), degradable, soluble above 2 g/L, natural"


def _for_what(material: Ingredient) -> str:
    if material.get("polymer", "released") is not None:
        return RELEASED
    if material.get("polymer", "encapsulates") == SCENT:
        return SCENT
    said = {" ".join(word.casefold().split()) for word in material.functions}
    return BEADS if said & _SCRUBBING else ""
