"""Claims about what is in a product: so much of something, nothing of a list, nothing of animals.

The standard is a way of counting: it sets no mark and knows no claims.  The mark is the recipe's own.  Contents are
compared unrounded (the standard is said to have no rule of rounding: from memory).

No law says what vegan is in a cosmetic; what is asked here is the source of each raw material (``source`` in its
file).  Aids of its making, testing on animals and shared equipment are not judged.  Names that are of an animal
whatever a file states are a short list of our own; glycerin, stearates, squalane, collagen and the like may be either,
so their files have to say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fnmatch import fnmatchcase
from fractions import Fraction
from typing import Final

from formula_vcs.figures.interval import Interval
from formula_vcs.figures.origin import content_between
from formula_vcs.figures.standards import ClaimOutcome, Mark
from formula_vcs.law.claims.part import ClaimCondition, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.limit_use import percent
from formula_vcs.law.packs_in_force import law_of
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import LawRow
from formula_vcs.words.late_pattern import late_pattern

# --- The lists of a standard: what is in a recipe that they forbid, and what they do not know


def rows(pack: str) -> list[LawRow]:
    """The rows of a list pack."""
    return list(law_of((), (pack,)).all_rows())


def forbidden(found: Compliance, pack: str) -> Iterator[ClaimCondition]:
    """Fail for every substance that the lists forbid, one condition a row."""
    for row in rows(pack):
        if row.kind != "prohibited":
            continue
        names = [held.spelled for key, held in found.totals.items() if held.pct > 0 and _on(row, key)]
        if names:
            yield ClaimCondition(False, f"{', '.join(names)}: not allowed by {row.source}")


def _on(row: LawRow, key: str) -> bool:
    return key in row.names or any(fnmatchcase(key, pattern) for pattern in row.like)


def allowed(pack: str, *ids: str) -> dict[str, LawRow]:
    """The names that positive lists of a pack hold, each with its row."""
    return {key: row for row in rows(pack) if row.id in ids for key in row.names}


def materials(found: Compliance, wanted: Callable[[Ingredient], bool]) -> Iterator[tuple[str, Ingredient]]:
    """The raw materials of a recipe that are of a kind."""
    for name, share in found.sums.leaves.items():
        material = found.formula.ingredients.get(name)
        if material is not None and share and wanted(material):
            yield name, material


# --- Content claims by ISO 16128-2: natural, natural-origin, organic, organic-origin, with or without water


CONTENT: Final = late_pattern(
    r"(?P<index>natural|natural-origin|organic|organic-origin) at least (?P<least>\d{1,3}(?:\.\d{1,20})?) ?%"
    r"(?P<dry> without water)?"
)


def content(found: Compliance, claim: str, match: re.Match[str]) -> ClaimOutcome:
    """Judge a content claim."""
    dry = bool(match["dry"])
    words = match["index"].replace("-", " ") + (", without water," if dry else "")
    value = content_between(found.sums, match["index"].replace("-", "_"), water_in=not dry)
    return verdict(claim, [plain_at_least(words, value, Fraction(match["least"]))])


def plain_at_least(words: str, value: Interval, least: Fraction) -> ClaimCondition:
    """Ask a content to reach a mark, in the short words of a content claim."""
    mark = Mark(words.rstrip(","), value, least, least=True)
    known = value.value is not None
    if value.low >= least:
        return ClaimCondition(True, f"{words} is {'' if known else 'at least '}{percent(value.low, least)}", mark=mark)
    if value.high < least:
        return ClaimCondition(False, f"{words} is {'' if known else 'at most '}{percent(value.high, least)}", mark=mark)
    return ClaimCondition(None, f"{words} is not known", value.missing, mark)


# --- The claim "vegan": nothing of an animal in the product, by what each material's file states of its source


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
