"""What a product claims to be free from: "free-from NAME or class", "NAME-free".

The classes are lists of our own, since no law and no standard says what "sulfates" are in a claim; each says in words
what it counts and what it does not.  A list is names and patterns of folded INCI names.  What is not on a list is not
found by it, so a claim that holds does so by the list.  Whether such a claim may be made is not judged.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatchcase
from fractions import Fraction
from typing import Final

from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.claims.contents import materials
from formula_vcs.law.claims.part import ClaimCondition, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.identity import identify
from formula_vcs.law.limit_use import percent
from formula_vcs.law.microparticles import PolymerPart, polymers
from formula_vcs.model.values import dataclass
from formula_vcs.toml.takers import nearest
from formula_vcs.words.late_pattern import late_pattern

FREE: Final = late_pattern(r"free[- ]from (?P<of>\S.*)|(?P<what>\S.*)-free", re.IGNORECASE)
_HUNDRED: Final = Fraction(100)
_BLENDS: Final = frozenset({"parfum", "aroma"})


@dataclass(frozen=True, slots=True)
class Unwanted:
    """What a claim is about: patterns of folded INCI names, and in words what they count.

    ``functions`` are those that a material's file may state and that put it on the list; ``in_blends`` says whether a
    perfume or an aroma, of which the file tells no more, may hold such a substance.
    """

    counts: str
    like: tuple[str, ...]
    functions: frozenset[str] = frozenset()
    in_blends: bool = True

    def names(self, key: str) -> bool:
        """Say whether a folded INCI name is on the list."""
        return any(fnmatchcase(key, pattern) for pattern in self.like)


# fmt: off
_ESSENTIAL_OILS: Final = (
    "lavandula *oil", "citrus *peel oil*", "citrus *leaf oil", "citrus *flower oil", "mentha *oil", "eucalyptus *oil",
    "melaleuca *oil", "pelargonium *oil", "rosmarinus *leaf oil", "cananga *oil", "cymbopogon *oil", "santalum *oil",
    "pogostemon *oil", "rosa *flower oil", "jasminum *oil", "eugenia caryophyllus *oil", "cinnamomum *oil",
    "juniperus *oil", "cedrus *oil", "vetiveria *oil", "salvia *oil", "thymus *oil", "litsea *oil", "illicium *oil",
    "anthemis *oil", "chamomilla *flower oil", "pinus *leaf oil", "abies *oil", "boswellia *oil", "commiphora *oil",
)
_SCENTS: Final = (
    "limonene", "linalool", "linalyl acetate", "citral", "citronellol", "geraniol", "geranyl acetate", "coumarin",
    "eugenol", "isoeugenol", "farnesol", "vanillin", "hexyl cinnamal", "amyl cinnamal", "cinnamal", "menthol",
    "alpha-isomethyl ionone", "hydroxycitronellal", "butylphenyl methylpropional", "camphor", "terpineol",
    "benzyl salicylate", "anise alcohol", "cinnamyl alcohol", "hexamethylindanopyran", "tetramethyl acetyloctahydr*",
)
CLASSES: Final[dict[str, Unwanted]] = {
    "sulfates": Unwanted(
        "alkyl and ether sulfates that wash or emulsify; not salts such as magnesium sulfate, not sulfonates",
        ("*yl sulfate", "*eth sulfate", "*eth-[0-9]* sulfate", "*coco-sulfate", "*amide sulfate", "*peg-* sulfate",
         "*oleate sulfate", "sulfated * oil"),
        in_blends=False,
    ),
    "silicones": Unwanted(
        "methicones, siloxanes, siloxysilicates, silsesquioxanes; not silica, not single silanes of a coating",
        ("*methicon*", "*siloxane*", "*siloxysilicate*", "*silsesquioxane*", "*silicone*"),
        in_blends=False,
    ),
    "parabens": Unwanted("esters of 4-hydroxybenzoic acid, the acid and its salts",
                         ("*paraben", "*paraben *", "4-hydroxybenzoic acid"), in_blends=False),
    "mineral oil": Unwanted(
        "oils, jellies and waxes of petroleum; not isoparaffins, not polyisobutenes",
        ("paraffinum liquidum*", "mineral oil*", "petrolatum*", "paraffin", "cera microcristallina*", "ceresin",
         "ozokerite"),
    ),
    "phthalates": Unwanted("esters of phthalic acid; not polymers of terephthalic acid", ("* phthalate",)),
    "PEG": Unwanted(
        "what is made with ethylene oxide: PEG, -eth-, polysorbates, poloxamers",
        ("peg-*", "* peg-*", "*/peg-*", "*eth-[0-9]*", "sodium laureth sulfate", "sodium myreth sulfate",
         "ammonium laureth sulfate", "*pareth sulfate", "polysorbate *", "poloxamer *"),
        in_blends=False,
    ),
    "formaldehyde donors": Unwanted(
        "formaldehyde, and preservatives that release it",
        ("formaldehyde", "paraformaldehyde", "dmdm hydantoin", "imidazolidinyl urea", "diazolidinyl urea",
         "quaternium-15", "sodium hydroxymethylglycinate", "2-bromo-2-nitropropane-1,3-diol", "methenamine",
         "5-bromo-5-nitro-1,3-dioxane", "polyoxymethylene *", "benzylhemiformal"),
        in_blends=False,
    ),
    "isothiazolinones": Unwanted("isothiazolinones", ("*isothiazolinone*",), in_blends=False),
    "alcohol": Unwanted(
        "ethyl, methyl and propyl alcohols; not fatty alcohols, benzyl alcohol or glycols",
        ("alcohol", "alcohol denat.", "isopropyl alcohol", "propyl alcohol", "n-propanol", "methyl alcohol"),
    ),
    "ethanol": Unwanted("ethyl alcohol, denatured or not", ("alcohol", "alcohol denat.")),
    "fragrance": Unwanted(
        "perfumes, aromas, common essential oils and common single scents; not other plant oils and extracts",
        ("parfum", "aroma", *_ESSENTIAL_OILS, *_SCENTS), frozenset({"fragrance", "perfume", "perfuming", "masking"}),
    ),
}
# fmt: on
_ALIASES: Final = {
    "perfume": "fragrance",
    "parfum": "fragrance",
    "scent": "fragrance",
    "sulphate": "sulfates",
    "ethoxylate": "PEG",
    "formaldehyde donor": "formaldehyde donors",
    "formaldehyde releaser": "formaldehyde donors",
}  # fmt: skip


def unwanted(claim: str) -> tuple[str, Unwanted | None] | None:
    """What a claim is about, and its list: none for a name that nobody knows; None for claims of other kinds."""
    match = FREE.fullmatch(claim)
    if match is None:
        return None
    name = " ".join((match["of"] or match["what"]).split())
    plain = _singular(name)
    known = {_singular(listed): listed for listed in CLASSES} | _ALIASES
    if plain in known:
        return known[plain], CLASSES[known[plain]]
    meant = identify(name)
    if not meant.inci or meant.how == "near":
        return name, None
    return name, Unwanted(meant.inci, (re.sub(r"([\[*?])", r"[\1]", meant.key),))


def of_particles(claim: str) -> bool:
    """Say whether a claim is that a product is free from microplastics, which no list of names can judge."""
    match = FREE.fullmatch(claim)
    return match is not None and _singular(" ".join((match["of"] or match["what"]).split())) in _PARTICLES


def no_particles(found: Compliance, claim: str) -> ClaimOutcome:
    """Judge that no material brings synthetic polymer microparticles, by what the files state of their polymers."""
    parts = polymers(found)
    because = f"no material is one or may be one, by {_ENTRY} and our own list of polymers that are sold as particles"
    return verdict(claim, [*(_particle(part) for part in parts), ClaimCondition(True, because)])


def _particle(part: PolymerPart) -> ClaimCondition:
    words = f"{part.names} of '{part.material}' ({percent(part.pct)})"
    if part.sure:
        return ClaimCondition(False, f"{words} is in solid particles, as its file states")
    if part.sure is None:
        return ClaimCondition(None, f"{words} may be in solid particles", (f"{part.material}: {part.why}",))
    return ClaimCondition(True, f"{words} is {part.why}")


_ENTRY: Final = "the definition of REACH, Annex XVII, entry 78"
_PARTICLES: Final = frozenset({"microplastic", "plastic particle", "microbead", "plastic microbead"})


def _singular(name: str) -> str:
    return name.casefold().removesuffix("s")


def free_from(found: Compliance, claim: str, about: tuple[str, Unwanted | None]) -> ClaimOutcome:
    """Judge that nothing on a list is in the product, as far as its materials tell what is in them."""
    name, of = about
    if of is None:
        hint = nearest(name, CLASSES) or f"; classes: {', '.join(CLASSES)}"
        words = f"neither a class nor a substance is known as '{name}'{hint}"
        return ClaimOutcome(claim, "needs information", words)
    counted = f"by our own list of {name} ({of.counts})" if name in CLASSES else ""
    parts = [*_found(found, of), *_by_function(found, of), *_untold(found, name, of)]
    if counted and any(part.met is False for part in parts):
        parts.append(ClaimCondition(False, counted))
    return verdict(claim, [*parts, ClaimCondition(True, counted or f"no {of.counts} is stated in any material")])


def _found(found: Compliance, of: Unwanted) -> Iterator[ClaimCondition]:
    for key, held in found.totals.items():
        if held.pct <= 0 or not of.names(key):
            continue
        brings = ", ".join(dict.fromkeys(line.charge.ingredient for line, _ in found.lines_with([key])))
        words = f"{held.spelled} {percent(held.pct)} is in it (from {brings})"
        if key in found.traces:
            yield ClaimCondition(
                None, f"{words}, as a declared impurity alone", (f"whether traces of {held.spelled} may be",)
            )
        else:
            yield ClaimCondition(False, words)


def _by_function(found: Compliance, of: Unwanted) -> Iterator[ClaimCondition]:
    for name, material in materials(found, lambda _: True):
        stated = sorted(of.functions.intersection(map(str.casefold, material.functions)))
        if stated and not any(of.names(key) for key in found.content(name)):
            yield ClaimCondition(False, f"'{name}' states the function {', '.join(stated)}")


def _untold(found: Compliance, what: str, of: Unwanted) -> Iterator[ClaimCondition]:
    """Ask about materials that do not tell all that is in them."""
    for name in found.sums.leaves:
        if name not in found.formula.ingredients:
            yield ClaimCondition(None, f"'{name}' has no file", (f"{name}: what is in it",))
    for name, material in materials(found, lambda _: True):
        rest = _HUNDRED - sum((Fraction(pct) for pct in material.substances.values()), Fraction(0))
        if rest > 0:
            words = f"'{name}' does not tell what {percent(rest)} of it is"
            yield ClaimCondition(None, words, (f"{name}: what the other {percent(rest)} is",))
        if of.in_blends and not _BLENDS.isdisjoint(found.content(name)) and not any(of.names(key) for key in _BLENDS):
            yield ClaimCondition(None, f"'{name}' is a blend under one name", (f"{name}: whether {what} is in it",))
