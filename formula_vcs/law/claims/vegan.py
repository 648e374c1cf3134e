"""The claim "vegan": nothing of an animal in the product, by what each material's file states of its source.

No law says what vegan is in a cosmetic; what is asked here is the source of each raw material (``source`` in its
file).  Aids of its making, testing on animals and shared equipment are not judged.  Names that are of an animal
whatever a file states are a short list of our own; glycerin, stearates, squalane, collagen and the like may be either,
so their files have to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from fnmatch import fnmatchcase
from typing import Final

from formula_vcs.figures.claim_outcome import ClaimOutcome
from formula_vcs.law.claims.lists import materials
from formula_vcs.law.claims.part import ClaimCondition, verdict
from formula_vcs.law.compliance import Compliance

_ANIMAL: Final = (
    "cera alba", "cera flava", "peg-* beeswax", "beeswax *", "mel", "mel extract", "propolis*", "royal jelly*",
    "lanolin*", "*lanolin", "*lanolate", "cera lanae", "ci 75470", "shellac*", "lac", "*caprae lac*", "serica*",
    "sodium tallowate", "potassium tallowate", "tallow*", "adeps *", "*mink oil*", "emu oil", "equae lac",
    "ostrich oil", "margarita powder", "hydrolyzed pearl", "*snail secretion filtrate*", "spermaceti", "cetaceum",
)  # fmt: skip


def vegan(found: Compliance, claim: str) -> ClaimOutcome:
    """Judge that no material is of an animal; a material whose source is not stated is asked about."""
    because = "no material is of an animal, as their files state; aids of making and tests on animals are not judged"
    return verdict(claim, [*_known(found), *_asked(found), ClaimCondition(True, because)])


def _known(found: Compliance) -> Iterator[ClaimCondition]:
    for name, material in materials(found, lambda _: True):
        source = material.get("source")
        named = [held.spelled for key, held in found.content(name).items() if held.pct > 0 and _of_animal(key)]
        if source == "animal":
            yield ClaimCondition(False, f"'{name}' is of an animal, as its file states")
        elif named:
            but = f", though its file states '{source}'" if source else ""
            yield ClaimCondition(False, f"{', '.join(named)} in '{name}' is of an animal{but}")


def _asked(found: Compliance) -> Iterator[ClaimCondition]:
    for name in found.sums.leaves:
        material = found.formula.ingredients.get(name)
        if material is None:
            yield ClaimCondition(None, f"'{name}' has no file", (f"{name}: its source",))
        elif material.get("source") is None and material.inci != frozenset({"aqua"}):
            yield ClaimCondition(
                None, f"'{name}' states no source", (f"{name}: plant, animal, mineral, synthetic or biotechnology",)
            )


def _of_animal(key: str) -> bool:
    return any(fnmatchcase(key, pattern) for pattern in _ANIMAL)
