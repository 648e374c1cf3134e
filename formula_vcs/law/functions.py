"""What a material is there for, in the words that people write for the functions that the annexes are about.

Regulation (EC) No 1223/2009, Article 2(1)(l) to (n): preservatives, colorants and UV filters are substances that are
"exclusively or mainly intended" to do that.  So what counts is the function that a material states.  A UV absorber, as
the Commission's list of functions has it, protects the product and not the skin, and is no UV filter.
"""

from __future__ import annotations

from typing import Final

from formula_vcs.figures.ingredient_list import colour_index
from formula_vcs.model.ingredient import Ingredient

COLORANT: Final = "colorant"
UV_FILTER: Final = "UV filter"
PRESERVATIVE: Final = "preservative"
SCENT: Final = "fragrance"
# Words for one function; the spelling of the key is the one that messages use.
_WORDS: Final[dict[str, frozenset[str]]] = {
    COLORANT: frozenset(
        ("colorant", "colourant", "cosmetic colorant", "colour", "color", "pigment", "dye", "lake", "coloring",
         "colouring")
    ),
    UV_FILTER: frozenset(("uv filter", "uv-filter", "uv filters", "sunscreen", "sun filter", "sunscreen filter")),
    PRESERVATIVE: frozenset(("preservative", "preservatives", "cosmetic preservative")),
    SCENT: frozenset(
        ("fragrance", "perfume", "parfum", "perfuming", "scent", "flavour", "flavor", "aroma")
    ),
}  # fmt: skip


def has_function(material: Ingredient, function: str) -> bool:
    """Say whether a material states a function, in any of its words."""
    words = _WORDS.get(function)
    if words is None:
        return function in material.functions
    return any(" ".join(said.casefold().split()) in words for said in material.functions)


def does(material: Ingredient, key: str, function: str) -> bool | None:
    """Say whether a material brings a substance for a function; None where it states no function at all.

    A colour index number states one: it is a name for what colours.
    """
    if material.functions:
        return has_function(material, function)
    return True if function == COLORANT and colour_index(key) else None
