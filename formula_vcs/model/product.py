"""What a product is: its type, where it goes, its kind of emulsion.

The type of a product (`rules/packs/product-types.toml`) says some of it; the header says the rest, and comes on top.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.model.law_row import Product
from formula_vcs.model.values import replace
from formula_vcs.words.late_pattern import late_pattern

# --- Whom a product is for, how it leaves its pack and where it goes, as the header of a recipe states it


# The ages that rows draw a line at, in years: a product that somebody younger uses is "under-3", "under-6" and so on.
LINES: Final = (1, 3, 6, 10, 16)
SPRAYS: Final = ("aerosol", "pump", "none")
AREAS: Final = (
    "face", "eye", "lip", "mouth", "hair", "scalp", "hand", "foot", "nail", "underarm", "body", "anogenital", "skin",
)  # fmt: skip
ADULTS: Final = "adults"
PROFESSIONAL: Final = "professional"

_SPOKEN: Final = {
    "adults": ADULTS, "adults only": ADULTS, "professional": PROFESSIONAL, "professionals": PROFESSIONAL,
    "professional use": PROFESSIONAL, "professional use only": PROFESSIONAL, "general public": "", "everybody": "",
    "everyone": "", "all ages": "",
}  # fmt: skip
_YOUNG: Final = ("babies", "baby", "infants")
_SPAN: Final = late_pattern(
    r"(?:(?:children|kids|teenagers|users) )?(?:aged |of |from )?"
    r"(?:(?P<side>under|over|from) (?P<one>\d{1,2})|(?P<low>\d{1,2})(?P<months> months)?(?: to |-)(?P<high>\d{1,2}))"
    r"(?: ?(?:years?|y))?(?: old| of age)?"
)
HOW: Final = '"children under 3", "children 6 to 10", "adults", "professional use" or "general public"'


class Audience(NamedTuple):
    """Whom a product is for: the ages of product types ("under-3", "adults"), and "professional" or nothing."""

    ages: frozenset[str] = frozenset()
    users: frozenset[str] = frozenset()


def audience(text: str) -> Audience | None:
    """Read whom a product is for; None where it does not say so.

    A product for children under 6 is one for those under 3 too; "children 3 to 6" is not.  Babies are children under
    3, as the annexes of Regulation (EC) No 1223/2009 divide them.

    >>> sorted(audience("children 3 to 6").ages)
    ['under-10', 'under-16', 'under-6']
    """
    said = " ".join(text.casefold().split())
    if said in _SPOKEN:
        return _spoken(_SPOKEN[said])
    if said in _YOUNG:
        return _from(Fraction(0))
    match = _SPAN.fullmatch(said)
    if match is None:
        return None
    if match["side"]:
        return _from(Fraction(0 if match["side"] == "under" else int(match["one"])))
    low = Fraction(int(match["low"]), 12 if match["months"] else 1)
    return _from(low) if low < int(match["high"]) else None


def _spoken(meant: str) -> Audience:
    ages = frozenset({ADULTS}) if meant else frozenset[str]()
    return Audience(ages, frozenset({PROFESSIONAL}) if meant == PROFESSIONAL else frozenset())


def _from(youngest: Fraction) -> Audience:
    return Audience(frozenset(f"under-{line}" for line in LINES if youngest < line) or frozenset({ADULTS}))


_RATIO: Final = late_pattern(r"(?P<own>\d{1,3}(?:\.\d{1,3})?) to (?P<other>\d{1,3}(?:\.\d{1,3})?)")


def share_mixed(text: str) -> Fraction | None:
    """Read how a product is mixed before use, "1 to 1.5": its share of the mixture, None where that says none.

    >>> share_mixed("1 to 1.5")
    Fraction(2, 5)
    """
    match = _RATIO.fullmatch(" ".join(text.split()))
    own, other = (Fraction(match["own"]), Fraction(match["other"])) if match is not None else (Fraction(0), Fraction(0))
    return own / (own + other) if own and other else None


def younger(ages: frozenset[str]) -> frozenset[str]:
    """Give ages with all that they imply: who is under 3 is under 6, under 10 and under 16 too."""
    youngest = min((line for line in LINES if f"under-{line}" in ages), default=None)
    return ages if youngest is None else ages | {f"under-{line}" for line in LINES if line >= youngest}


def completed(
    product: Product,
    *,
    made_for: str | None = None,
    spray: str | None = None,
    hydroalcoholic: bool | None = None,
    areas: Collection[str] = (),
    form: str | None = None,
    claims: Collection[str] = (),
) -> Product:
    """A product with what its recipe's header says on top of what its type says; nothing is taken away."""
    whom = (audience(made_for) if made_for is not None else None) or Audience()
    forms = {form} if form is not None else set()
    if spray in ("aerosol", "pump"):
        forms |= {"spray", spray}
    if hydroalcoholic:
        forms.add("hydroalcoholic")
    return replace(
        product,
        age=product.age | whom.ages,
        user=product.user | whom.users,
        form=product.form | forms,
        area=product.area | frozenset(areas),
        claim=product.claim | frozenset(begun for claim in claims for begun in _beginnings(claim)),
    )


def _beginnings(claim: str) -> Iterator[str]:
    """A claim, folded, and each run of words that it begins with."""
    words = claim.casefold().split()
    yield from (" ".join(words[:length]) for length in range(1, len(words) + 1))


# --- Kinds of emulsion, as the trade writes them: what is inside stands first, what is outside last


OIL_IN_WATER: Final = "O/W"
IN_OIL: Final = ("W/O", "W/Si")  # oil, or silicone, outside
DOUBLE: Final = ("W/O/W", "O/W/O")
KINDS: Final = (OIL_IN_WATER, *IN_OIL, *DOUBLE)


def has_two_waters(kind: str | None) -> bool:
    """Say whether an emulsion of a kind has water in two places that are not in touch, inside the drops and outside."""
    return kind == "W/O/W"


def holds_water_in_oil(kind: str) -> bool:
    """Say whether somewhere in an emulsion of a kind there are droplets of water in oil."""
    return kind != OIL_IN_WATER
