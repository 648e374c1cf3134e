"""Colours for the United States are listed there."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.ingredient_list import colour_index
from formula_vcs.law.compliance import Compliance, substances_of
from formula_vcs.law.functions import COLORANT, has_function
from formula_vcs.law.limit_use import percent
from formula_vcs.law.us_names import COLOURS, listed_colours
from formula_vcs.model.finding import Finding
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case


class UsColour(PackRule):
    """A colour of a product for the United States is one that 21 CFR 73 subpart C or 74 subpart C lists.

    Why: every colour additive has to be listed, an unlisted one makes the product adulterated, and the list is not
    Europe's: CI 15585 and beetroot are not on it, mica is.  Asked are substances called by a Colour Index number, and
    what a material whose function is colorant mostly is; a mineral that only fills or opacifies says so by its
    functions.  Where a listed colour may go, and how much of it, is said by 'prohibited' and 'limit'.  Coal-tar hair
    dyes need no listing (21 U.S.C. 361(a), from memory), so hair dyes are not asked.
    """

    id = "us-colour"
    of_rows = False
    source = "21 CFR 70.3, 73 subpart C and 74 subpart C"

    def check(self, case: Case) -> Iterator[Finding]:
        """Look every colour up."""
        found = case.finished
        if found is None or "US" not in found.markets or found.product is None or "hair dye" in found.product.types:
            return
        for key in _colours(found):
            held = found.totals[key]
            if listed_colours(found.law, key, held.spelled, held.cas) or _banned(found, key):
                continue
            words = (
                f"{held.spelled} ({percent(held.pct)}) is a colour, and none that is listed for cosmetics in the "
                "United States (21 CFR 73 C, 74 C); if it is there for something else, its material's functions say so"
            )
            yield self.say(case, words, found.main_charge([key]), subject=key)


def _banned(found: Compliance, key: str) -> bool:
    """Say whether a row speaks of the colour already."""
    return any(hit.row.pack == COLOURS and hit.row.kind == "prohibited" and key in hit.keys for hit in found.hits)


def _colours(found: Compliance) -> list[str]:
    """Give the folded names of what is in the product as a colour."""
    keys: dict[str, None] = {}
    for name in found.sums.leaves:
        material = found.formula.ingredients.get(name)
        if material is None:
            continue
        for_colour = has_function(material, COLORANT)
        for key, held in substances_of(material).items():
            colours = (for_colour and held.pct > 50) or colour_index(key)
            if colours and key in found.totals and found.totals[key].pct > 0:
                keys[key] = None
    return list(keys)
