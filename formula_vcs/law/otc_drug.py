"""Which active ingredients of a drug without prescription are in a product, by the monographs of the United States.

Whether something is a drug follows from what it is sold for (21 U.S.C. 321(g)); here its product type says that, and a
substance that is of no other use.  Pure: rows of kind ``active`` in, values out.
"""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from typing import Final, Literal

from formula_vcs.law.compliance import ApplicableRow, Compliance, in_force, substances_of
from formula_vcs.law.functions import UV_FILTER, has_function
from formula_vcs.law.limit_use import CountedAmount, amount
from formula_vcs.law.packs_in_force import Monograph, cosmetic_too, monographs
from formula_vcs.model.law_row import EVERYTHING, LawRow
from formula_vcs.model.values import dataclass

UNITED_STATES: Final = "US"
State = Literal["inside", "below", "above", "between", "without"]


@dataclass(frozen=True, slots=True)
class Active:
    """A substance that a monograph names, as it is in the product.

    ``rows`` are the monograph's lines for it, ``row`` the one that it is held against, ``used`` its amount in % w/w as
    that line counts it, ``pct`` as it stands.  ``state`` is without where the line wants another active beside it.
    """

    monograph: str
    key: str
    row: LawRow
    rows: tuple[LawRow, ...]
    used: Fraction
    pct: Fraction
    state: State

    @property
    def printed(self) -> str:
        """Give its name as a drug's label has it."""
        return self.row.printed


def actives(found: Compliance, day: datetime.date) -> tuple[Active, ...]:
    """The active ingredients of a product that is a drug in the United States, each once, the most first.

    What is less than its monograph wants is none, beside another active ingredient of that monograph that is enough;
    but what is named only together with that one has to be enough too.
    """
    if UNITED_STATES not in found.markets or found.product is None:
        return ()
    there = [_held(found, name, key, rows) for (name, key), rows in _lines(in_force(found, day)).items()]
    enough = {active.monograph for active in there if active.state in ("inside", "above")}
    kept = (one for one in there if one.state != "below" or one.row.others or one.monograph not in enough)
    return tuple(sorted(kept, key=lambda active: (-active.pct, active.printed)))


def _lines(hits: list[ApplicableRow]) -> dict[tuple[str, str], list[LawRow]]:
    """The lines of the monographs for each substance, by monograph and folded name."""
    lines: dict[tuple[str, str], list[LawRow]] = defaultdict(list)
    for hit in hits:
        if hit.row.kind == "active":
            for key in hit.keys:
                lines[hit.row.drug, key].append(hit.row)
    return lines


def _held(found: Compliance, monograph: str, key: str, rows: list[LawRow]) -> Active:
    """Hold a substance against the lines of its monograph: those for what stands beside it come before the others."""
    beside = [row for row in rows if row.others and any(_there(found, other) for other in row.others)]
    plain = [row for row in rows if not row.others]
    pct = found.totals[key].pct
    if not beside and not plain:
        return Active(monograph, key, rows[0], tuple(rows), pct, pct, "without")
    judged = [(row, *_state(row, amount(found, [key], row.basis))) for row in beside or plain]
    row, used, state = min(judged, key=lambda one: (one[2] != "inside", _away(one[0], one[1])))
    if state != "inside" and len({other for _, _, other in judged}) > 1:
        state = "between"
    return Active(monograph, key, row, tuple(one for one, _, _ in judged), used, pct, state)


def _there(found: Compliance, key: str) -> bool:
    return key in found.totals and found.totals[key].pct > 0


def _state(row: LawRow, there: CountedAmount) -> tuple[Fraction, State]:
    """Hold an amount against a line: of a range the end that lies outside counts."""
    low, high = row.windows[0]
    if there.used > high:
        return there.used, "above"
    return (there.least, "below") if there.least < low else (there.used, "inside")


def _away(row: LawRow, used: Fraction) -> Fraction:
    return min(abs(used - edge) for edge in row.windows[0])


def drugs_by_type(found: Compliance) -> list[str]:
    """Name the monographs whose drugs a product is by its type, with or without an active ingredient."""
    if UNITED_STATES not in found.markets or found.product is None:
        return []
    return [name for name, drug in monographs().items() if drug.always and found.product.fits(drug.where)]


def uv_filters(found: Compliance) -> list[str]:
    """The folded names of what a material of the recipe brings in as a UV filter."""
    keys: dict[str, None] = {}
    for name in found.sums.leaves:
        material = found.formula.ingredients.get(name)
        if material is not None and has_function(material, UV_FILTER):
            held = substances_of(material)
            main = max(held, key=lambda key: held[key].pct, default=None)
            if main is not None:
                keys[main] = None
    return [key for key in keys if _there(found, key)]


def of_no_other_use(found: Compliance, day: datetime.date) -> Iterator[tuple[LawRow, str]]:
    """What is an active ingredient in some product, and of no other use, where the product is no such drug."""
    if UNITED_STATES not in found.markets:
        return
    seen = {key for hit in found.hits for key in hit.keys if hit.row.kind == "active"}
    for hit in found.spoken:
        row = hit.row
        if row.kind != "active" or not row.placed.covers(day) or _is_one(found, monographs()[row.drug]):
            continue
        for key in hit.keys:
            if key not in seen and not cosmetic_too(row):
                seen.add(key)
                yield row, key


def _is_one(found: Compliance, monograph: Monograph) -> bool:
    """Say whether a product is a drug of a monograph by its type, or what that names makes no drug of others."""
    typed = monograph.where != EVERYTHING and found.product is not None and found.product.fits(monograph.where)
    return monograph.also_cosmetic or typed
