"""The ingredient list: merged over all raw materials by INCI name, in falling order, colorants last.

Regulation (EC) No 1223/2009, Article 19(1)(g): descending order of weight at the time they are added; those in
concentrations of less than 1 % may be listed in any order after the others; colorants may follow in any order.
21 CFR 701.3(a), (f) for the US (its line is "not above 1 %": from memory).
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

_COLOUR_INDEX: Final = late_pattern(r"ci \d{5}(?::\d)?(?:$|[ (,])")
COLORANT: Final = "colorant"
ListPart = Literal["active", "ordered", "free", "colorant"]


@dataclass(frozen=True, slots=True)
class LabelLine:
    """One name of the list.  ``part`` is ordered, free (below the 1 % line, order is free) or colorant.

    It is active for an active ingredient of a drug of the United States, which stands apart and before all others.
    ``ends`` are the least and the most that it may be where a material states a range, of which ``pct`` has the middle.
    """

    inci: str
    pct: Fraction
    part: ListPart
    ends: tuple[Fraction, Fraction] | None = None

    @property
    def least(self) -> Fraction:
        """The least that it may be."""
        return self.pct if self.ends is None else self.ends[0]

    @property
    def most(self) -> Fraction:
        """The most that it may be."""
        return self.pct if self.ends is None else self.ends[1]


def label(sums: Breakdown, market: str = "EU") -> tuple[LabelLine, ...]:
    """The ingredient list; equal shares stand in the order of their names, so the list never flickers."""
    colours = _colorants(sums)
    lines: list[LabelLine] = []
    for key, pct in sums.substances.items():
        if pct > 0:
            part: ListPart = "colorant" if key in colours else "ordered" if _above(pct, market) else "free"
            lines.append(LabelLine(sums.names[key][0], pct, part))
    rank = {"ordered": 0, "free": 1, "colorant": 2}
    return tuple(sorted(lines, key=lambda line: (rank[line.part], -line.pct, line.inci)))


def _above(pct: Fraction, market: str) -> bool:
    return pct > 1 if market == "US" else pct >= 1


def _colorants(sums: Breakdown) -> set[str]:
    """Name the substances that only ever come in as colorants: by CI number, or from materials said to be ones."""
    colours: dict[str, bool] = {}
    for name in sums.leaves:
        material = sums.formula.ingredients.get(name)
        for inci in material.substances if material is not None else ():
            key = inci_key(inci)
            here = material is not None and (colour_index(inci) or colorant_of(material, material.substances[inci]))
            colours[key] = colours.get(key, True) and here
    return {key for key, always in colours.items() if always}


def colour_index(inci: str) -> bool:
    """Say whether a name is a colour index number."""
    return bool(_COLOUR_INDEX.match(inci_key(inci)))


def colorant_of(material: Ingredient, pct: Decimal | Fraction) -> bool:
    """Say whether a substance that is some % of a material is what makes the material a colorant."""
    return COLORANT in material.functions and pct > 50
