"""Content claims by ISO 16128-2: natural, natural-origin, organic, organic-origin, with or without water.

The standard is a way of counting: it sets no mark and knows no claims.  The mark is the recipe's own.  Contents are
compared unrounded (the standard is said to have no rule of rounding: from memory).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from formula_vcs.figures.claim_outcome import ClaimOutcome, Mark
from formula_vcs.figures.interval import Interval
from formula_vcs.figures.origin import content_between
from formula_vcs.law.claims.part import ClaimCondition, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.limit_use import percent
from formula_vcs.words.late_pattern import late_pattern

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
