"""Water that puts a dried or concentrated plant back: tied to its concentrate by ``rebuilds``, with a cap.

A concentrate of ratio R (200 : 1) takes up at most (R - 1) times its mass; water beyond that is plain water.
Counted with the plant by ISO 16128-2:2017 (reconstitution water, Annex B) and by COSMOS practice (secondary sources;
the cap is ours); not counted by the Austrian food code 6.4.2, and left out as water by 7 CFR 205.302.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED, Composition


def rebuilt(sums: Breakdown) -> dict[str, tuple[str, Fraction]]:
    """Give the water counted with each concentrate: ``{concentrate: (water material, share of the product)}``."""
    return sums.cached("rebuilt", lambda: _rebuilt(sums))


def _rebuilt(sums: Breakdown) -> dict[str, tuple[str, Fraction]]:
    found = _within(sums, sums.composition)
    for name in sums.formula.order:
        premix = sums.formula.premix_of(name)
        inside = _within(sums, sums.premix(premix.id)) if premix is not None else {}
        if not inside:
            continue
        share = _share(sums, name)
        for concentrate, (water, part) in inside.items() if share else ():
            known = found.get(concentrate, (water, Fraction(0)))
            found[concentrate] = (known[0], known[1] + part * share)
    return found


def _share(sums: Breakdown, premix: str) -> Fraction:
    return sums.spread(lambda material: material.id == premix).get(premix, Fraction(0))


def _within(sums: Breakdown, composition: Composition) -> dict[str, tuple[str, Fraction]]:
    tied: dict[str, tuple[str, Fraction]] = {}
    shares = composition.by_ingredient()
    for line in composition.lines:
        concentrate = line.charge.more.get("rebuilds")
        if isinstance(concentrate, str) and concentrate in shares:
            water, known = tied.get(concentrate, (line.charge.ingredient, Fraction(0)))
            tied[concentrate] = (water, known + line.pct / HUNDRED)
    found: dict[str, tuple[str, Fraction]] = {}
    for concentrate, (water, part) in tied.items():
        material = sums.formula.ingredients.get(concentrate)
        ratio = material.get("concentrate", "ratio", kind=Decimal) if material is not None else None
        if ratio is not None and ratio > 1:
            cap = (Fraction(ratio) - 1) * shares[concentrate] / HUNDRED
            found[concentrate] = (water, min(part, cap))
    return found
