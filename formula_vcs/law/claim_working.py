"""The arithmetic of a claim, line by line, so that somebody can do it again by hand."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.figures.extract import rebuilt
from formula_vcs.figures.interval import Interval
from formula_vcs.figures.origin import content_between, working
from formula_vcs.figures.standards import ClaimOutcome, nop_parts, of_material, of_product, organic_share
from formula_vcs.law.claims.contents import CONTENT
from formula_vcs.law.claims.table import RESTS_ON
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.ingredient import COSMOS_CLASSES
from formula_vcs.words.numbers import exact_text, rounded

NOT_ON_FILE: Final = "not on file"
_DIGITS: Final = 12
_PLACES: Final = 6


class ClaimWorking(NamedTuple):
    """How a claim is judged.

    ``method`` says the formula, ``heads`` and ``rows`` are a table of its summands, ``sums`` the lines below it, each
    with what it is and its text.
    """

    outcome: ClaimOutcome
    method: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    sums: tuple[tuple[str, str], ...] = ()
    rests_on: str = ""


def number(value: Fraction | None) -> str:
    """Write a number exactly where it has few digits, else rounded to six decimals and marked as such.

    >>> number(Fraction("99.314")), number(Fraction(1, 3)), number(None)
    ('99.314', '0.333333 (rounded)', 'not on file')
    """
    if value is None:
        return NOT_ON_FILE
    text = exact_text(value)
    if "/" not in text and len(text) <= _DIGITS:
        return text
    return f"{rounded(value, _PLACES):f} (rounded)"


def claim_working(found: Compliance, outcome: ClaimOutcome, day: datetime.date) -> ClaimWorking:
    """How a claim of a recipe is worked out; a claim without arithmetic has only its outcome."""
    match = CONTENT.fullmatch(outcome.claim)
    rests_on = RESTS_ON.get(outcome.claim, "")
    if match is not None:
        index = match["index"].replace("-", "_")
        return _content(found, outcome, index, dry=bool(match["dry"]))
    if outcome.claim.startswith("cosmos-"):
        return _cosmos(found, outcome, day)._replace(rests_on=rests_on)
    if outcome.claim in ("nop-organic", "nop-made-with", "nsf-305"):
        return _nop(found, outcome)._replace(rests_on=rests_on)
    if outcome.claim == "vegan":
        return _vegan(found, outcome)
    return ClaimWorking(outcome, rests_on=rests_on)


def _content(found: Compliance, outcome: ClaimOutcome, index: str, *, dry: bool) -> ClaimWorking:
    sums, name = found.sums, index.replace("_", " ")
    how = working(sums, index)
    rows, total = [], Fraction(0)
    for term in how.terms:
        known = isinstance(term.factor, Fraction)
        part = term.share * term.factor if isinstance(term.factor, Fraction) else None
        total += part or 0
        title = sums.formula.title(term.ingredient)
        what = f"{title}, rebuilding {sums.formula.title(term.rebuilds)}" if term.rebuilds else title
        said = number(term.factor) if isinstance(term.factor, Fraction) else NOT_ON_FILE
        rows.append((what, number(term.share), said, number(part), term.source or ("not stated" if known else "")))
    lines = [(f"sum of share x index: {name} content, %", number(total))]
    value = content_between(sums, index, water_in=not dry)
    method = f"ISO 16128-2: {name} content = sum of (share of the material in % x its {name} index)"
    if dry:
        method += "; without formulation water: (content - what the water brings) / (100 - water) x 100"
        lines.append(("formulation water, %", number(how.water)))
        lines.append(("of the content, brought by that water", number(how.from_water)))
        text = f"({number(total)} - {number(how.from_water)}) / (100 - {number(how.water)}) x 100"
        lines.append((f"{name} content without water, %", f"{text} = {number(value.low)}"))
    if value.missing:
        lines.append(("between, as long as facts are not on file, %", _span(value)))
    heads = ("material", "share, %", f"{name} index", "share x index", "index stated by")
    return ClaimWorking(outcome, method, heads, tuple(rows), tuple(lines))


def _span(value: Interval) -> str:
    return number(value.low) if value.low == value.high else f"{number(value.low)} to {number(value.high)}"


def _known(value: Interval) -> str:
    return number(value.value)


def _cosmos(found: Compliance, outcome: ClaimOutcome, day: datetime.date) -> ClaimWorking:
    sums = found.sums
    whole = of_product(sums, day)
    rows = []
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if share and material is not None:
            own = of_material(material, day)
            parts = [*(own.classes[one] for one in COSMOS_CLASSES), own.ppai_organic, own.cpai_organic]
            rows.append((material.title, number(share * 100), *map(_known, parts)))
        elif share:
            rows.append((name, number(share * 100), *[NOT_ON_FILE] * 8))
    names = {"ppai": "physically processed", "cpai": "chemically processed", "pemo": "petrochemical moieties",
             "nni": "non-natural"}  # fmt: skip
    lines = [(f"{names.get(one, one)}, % of the product", _span(whole.classes[one])) for one in COSMOS_CLASSES]
    lines += [
        (f"water that rebuilds {sums.formula.title(name)}, counted with the plant, %", number(share * 100))
        for name, (_, share) in rebuilt(sums).items()
    ]
    lines += [
        ("organic, physically processed, %", _span(whole.ppai_organic)),
        ("organic, chemically processed, %", _span(whole.cpai_organic)),
        ("organic of the whole = the sum of these two, %", _span(whole.organic)),
        ("natural origin = 100 - petrochemical moieties - non-natural, %", _span(whole.natural_origin)),
    ]
    share_of = whole.ppai_organic_share
    if share_of is not None:
        lines.append(("organic share of what is physically processed, %", _span(share_of)))
    heads = ("material", "share, %", *COSMOS_CLASSES, "organic ppai", "organic cpai")
    legend = ", ".join(f"{short} {words}" for short, words in names.items())
    method = (
        "each class of the product = sum of (share of the material x its class in %) / 100; classes are in % of the "
        f"material, as its file states them: {legend}"
    )
    return ClaimWorking(outcome, method, heads, tuple(rows), tuple(lines))


def _nop(found: Compliance, outcome: ClaimOutcome) -> ClaimWorking:
    sums = found.sums
    rows = []
    counted = organic = Fraction(0)
    for name, share in sums.leaves.items():
        if share:
            base, part = nop_parts(sums, name)
            rows.append((sums.formula.title(name), number(share * 100), _known(base), _known(part)))
            counted, organic = counted + share * base.low, organic + share * part.low
    lines = (
        ("counted = sum of (share x counted) / 100, %", number(counted)),
        ("organic = sum of (share x organic) / 100, %", number(organic)),
        ("organic / counted x 100, %", _span(organic_share(sums))),
    )
    heads = ("material", "share, %", "counted: no water, no salt, %", "organic, %")
    return ClaimWorking(
        outcome, "7 CFR 205.302(a): organic / all, both without water and salt", heads, tuple(rows), lines
    )


def _vegan(found: Compliance, outcome: ClaimOutcome) -> ClaimWorking:
    rows = []
    for name, share in found.sums.leaves.items():
        material = found.formula.ingredients.get(name)
        if share:
            source = None if material is None else material.get("source")
            rows.append((found.formula.title(name), source or NOT_ON_FILE))
    method = "every material states a source that is not animal"
    return ClaimWorking(outcome, method, ("material", "source stated"), tuple(rows))
