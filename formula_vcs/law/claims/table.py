"""The claims that can be judged, and the judging of all that a recipe states."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import Final

from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.claims.contents import CONTENT, content, vegan
from formula_vcs.law.claims.cosmos import cosmos
from formula_vcs.law.claims.free_from import free_from, no_particles, of_particles, unwanted
from formula_vcs.law.claims.national import austrian, french
from formula_vcs.law.claims.nop import nop
from formula_vcs.law.claims.proved import SPF, own_words, spf
from formula_vcs.law.compliance import Compliance
from formula_vcs.toml.takers import nearest

Judge = Callable[[Compliance, str, datetime.date], ClaimOutcome]
SCHEMES: Final[dict[str, Judge]] = {
    "cosmos-organic-4": cosmos,
    "cosmos-natural-4": cosmos,
    "nop-organic": lambda found, claim, _: nop(found, claim),
    "nop-made-with": lambda found, claim, _: nop(found, claim),
    "nsf-305": lambda found, claim, _: nop(found, claim),
    "fr-natural": lambda found, claim, _: french(found, claim),
    "fr-natural-origin": lambda found, claim, _: french(found, claim),
    "at-organic": austrian,
    "vegan": lambda found, claim, _: vegan(found, claim),
}
# What a verdict rests on that was not read in the standard's own text; said where a verdict is shown.
RESTS_ON: Final = {
    "cosmos-organic-4": "COSMOS limits and lists from certifiers' guides and memory",
    "cosmos-natural-4": "COSMOS limits and lists from certifiers' guides and memory",
    "nop-organic": "National List partly from memory",
    "nop-made-with": "National List partly from memory",
    "nsf-305": "NSF/ANSI 305 from a certifier's pages",
}


def judge_claims(found: Compliance, day: datetime.date) -> tuple[ClaimOutcome, ...]:
    """Judge the claims that a recipe states, in their order."""
    return tuple(judge_claim(found, claim, day) for claim in found.formula.recipe.claims)


def judge_claim(found: Compliance, claim: str, day: datetime.date) -> ClaimOutcome:
    """Judge one claim; one that nobody here knows needs information, never passes."""
    own = found.formula.recipe.own_claims.get(claim)
    if own is not None:
        return own_words(found, claim, own, day)
    factor = SPF.fullmatch(claim)
    if factor is not None:
        return spf(found, claim, factor, day)
    match = CONTENT.fullmatch(claim)
    if match is not None:
        return content(found, claim, match)
    scheme = SCHEMES.get(claim)
    if scheme is not None:
        return scheme(found, claim, day)
    if of_particles(claim):
        return no_particles(found, claim)
    about = unwanted(claim)
    if about is not None:
        return free_from(found, claim, about)
    likes = "'natural-origin at least 95 %', 'free-from sulfates', 'SPF 30' and their like"
    hint = _meant(claim) or f"; known: {likes}, {', '.join(SCHEMES)}"
    in_own = f'; one in your own words states the proof that it needs: [claim] "{claim}" = "efficacy"'
    return ClaimOutcome(claim, "needs information", f"no claim is called '{claim}'{hint}{in_own}")


def _meant(claim: str) -> str:
    """The scheme that a claim is nearly the name of; a number alone in common is no likeness."""
    meant = nearest(claim, SCHEMES)
    letters = "".join(filter(str.isalpha, claim.casefold()))
    near = nearest(letters, ["".join(filter(str.isalpha, name)) for name in SCHEMES])
    return meant if meant and near else ""
