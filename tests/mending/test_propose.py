"""Proposals against an oracle that works the same sums out by itself and tries every change there is.

The materials are invented; what is asked of them is plain arithmetic: a sum of share times index, or times price.
"""

from __future__ import annotations

import datetime
from fractions import Fraction
from itertools import product
from math import lcm
from operator import mul
from typing import NamedTuple

import pytest

from formula_vcs.errors import UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.mending.propose import MovableCharge, Proposal, movable, propose
from formula_vcs.mending.target import read_target
from formula_vcs.model.formula import Formula
from formula_vcs.rules.judge import judge
from formula_vcs.workspace.snapshot import Files, Snapshot

TERMS = Terms(datetime.date(2026, 11, 30))
WORKSPACE = 'title = "Shed"\ncurrency = "EUR"\nmarkets = ["EU"]\nbatch = "100 kg"\n'


class Material(NamedTuple):
    """Indices of origin (natural and natural origin alike), of organic, a price in EUR/kg, and what it is called."""

    natural: str
    organic: str
    price: str
    inci: str


SHELF = {
    "water": Material("1", "0", "0.01", "Aqua"),
    "glycerin": Material("1", "0", "1.40", "Glycerin"),
    "glycol": Material("0", "0", "2.10", "Propylene Glycol"),
    "shea": Material("1", "0.9", "6.30", "Butyrospermum Parkii Butter"),
    "ester": Material("0.5", "0.25", "3.05", "Caprylic/Capric Triglyceride"),
    "benzyl": Material("0", "0", "4.20", "Benzyl Alcohol"),
}
AMOUNTS = {"glycerin": "4.00", "glycol": "1.50", "shea": "3.125", "ester": "2.50", "benzyl": "0.95"}


def files(balance: str = '"to 100"', extra: str = "") -> dict[str, str]:
    """Write the workspace."""
    charges = "".join(f"{name} = {pct}\n" for name, pct in AMOUNTS.items())
    found = {
        f"ingredients/{name}.toml": (
            f'title = "{name}"\n[substances]\n"{one.inci}" = 100\n[origin]\nnatural = {one.natural}\n'
            f"natural_origin = {one.natural}\norganic = {one.organic}\norganic_origin = {one.organic}\n"
            f'formulation_water = {str(name == "water").lower()}\n[[price]]\ncost = "{one.price} EUR/kg"\n'
        )
        for name, one in SHELF.items()
    }
    steps = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'
    cream = f'title = "Cream"\nproduct = "hand cream"\n{extra}\n[phase.A.charge]\nwater = {balance}\n{charges}{steps}'
    return {**found, "workspace.toml": WORKSPACE, "cream.toml": cream}


def formula(**options: str) -> Formula:
    """Read the cream."""
    with Snapshot(Files(files(**options))) as snapshot:
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        return snapshot.formula(recipe)


def moving(found: Formula, spans: dict[str, tuple[str, str]]) -> list[MovableCharge]:
    """Give the named charges with what they may move in, in % w/w."""
    named = {one.knob.path[3]: one for one in movable(found)}
    return [MovableCharge(named[name].knob, Fraction(low), Fraction(high)) for name, (low, high) in spans.items()]


def value(amounts: dict[str, Fraction], what: str) -> Fraction:
    """Work out a figure of the whole recipe by its definition."""
    whole = {**amounts, "water": 100 - sum(amounts.values(), Fraction(0))}
    if what == "cost":
        return sum((pct * Fraction(SHELF[name].price) for name, pct in whole.items()), Fraction(0)) / 100
    if what in SHELF:
        return whole[what]
    index = "organic" if what.startswith("organic") else "natural"
    total = sum((pct * Fraction(getattr(SHELF[name], index)) for name, pct in whole.items()), Fraction(0))
    if what.endswith("without water"):
        dry = 100 - whole["water"]
        return (total - (whole["water"] if index == "natural" else 0)) / dry * 100
    return total


Want = tuple[str, str, str]  # what, at least or at most, the number


def best(spans: dict[str, tuple[str, str]], wants: list[Want], by: str, most: int) -> tuple[Fraction, ...] | None:
    """Try every change in steps of 0.01 and give the least cost of one, as `propose` orders them."""
    base = {name: Fraction(pct) for name, pct in AMOUNTS.items()}
    steps = []
    for name, (low, high) in spans.items():
        down = int((base[name] - Fraction(low)) * 100)
        up = int((Fraction(high) - base[name]) * 100)
        steps.append(range(-down, up + 1))
    names = list(spans)
    # whole numbers are quick: each want as start + sum of slope * move, not below 0
    limit = [("benzyl", "most", "1")]  # Annex V/34 of Regulation (EC) No 1223/2009: at most 1.0 % of benzyl alcohol
    asked = [
        _whole([_slack(base, {}, want), *(_slack(base, {name: 1}, want) for name in names)]) for want in wants + limit
    ]
    cost = _whole([value(_moved(base, moves), "cost") for moves in ({}, *({name: 1} for name in names))])
    found: tuple[int, int] | None = None
    for moves in product(*steps):
        if sum(move != 0 for move in moves) > most:
            continue
        if all(one[0] + sum(map(mul, one[1], moves)) >= 0 for one in asked):
            change = sum(map(abs, moves))
            this = (0 if by == "smallest" else cost[0] + sum(map(mul, cost[1], moves)), change)
            found = this if found is None else min(found, this)
    if found is None:
        return None
    return (Fraction(found[1]),) if by == "smallest" else (Fraction(found[0], cost[2]), Fraction(found[1]))


def _moved(base: dict[str, Fraction], moves: dict[str, int]) -> dict[str, Fraction]:
    return {name: pct + Fraction(moves.get(name, 0), 100) for name, pct in base.items()}


def _slack(base: dict[str, Fraction], moves: dict[str, int], want: Want) -> Fraction:
    """Give what is left to a want; of what is counted without water, times what is not water: a plain sum again."""
    what, side, number = want
    amounts = _moved(base, moves)
    left = value(amounts, what) - Fraction(number)
    dry = sum(amounts.values(), Fraction(0)) if what.endswith("without water") else Fraction(1)
    return left * dry if side == "least" else -left * dry


def _whole(values: list[Fraction]) -> tuple[int, list[int], int]:
    """Give the start and the slopes as whole numbers, and what they were taken times."""
    factor = lcm(*(one.denominator for one in values))
    start, *others = (int(one * factor) for one in values)
    return start, [other - start for other in others], factor


NARROW = {"glycerin": ("3.90", "4.15"), "glycol": ("1.35", "1.60"), "shea": ("3.00", "3.30")}
TWO = {"glycol": ("0.80", "1.70"), "shea": ("2.80", "3.90")}
FOUR = {"glycol": ("1.45", "1.52"), "shea": ("3.10", "3.20"), "ester": ("2.45", "2.55"), "glycerin": ("3.95", "4.05")}
BENZYL = {"benzyl": ("0.80", "1.20"), "glycol": ("1.30", "1.60")}

# 30 of them: smallest and cheapest, one target and several, reached, just reached, and out of reach.
CASES: list[tuple[dict[str, tuple[str, str]], list[Want], str, int]] = [
    (NARROW, [("natural-origin", "least", "96.40")], "smallest", 3),
    (NARROW, [("natural-origin", "least", "96.43")], "smallest", 1),
    (NARROW, [("natural-origin", "least", "96.45")], "smallest", 3),
    (NARROW, [("natural-origin", "least", "96.46")], "smallest", 3),
    (NARROW, [("organic", "least", "3.50")], "smallest", 2),
    (NARROW, [("organic", "least", "3.58"), ("natural-origin", "least", "96.35")], "smallest", 2),
    (
        NARROW,
        [("organic", "least", "3.58"), ("natural-origin", "least", "96.35"), ("cost", "most", "0.41")],
        "smallest",
        3,
    ),
    (NARROW, [("cost", "most", "0.395")], "smallest", 3),
    (NARROW, [("cost", "most", "0.3931234567")], "smallest", 3),
    (NARROW, [("cost", "most", "0.390")], "cheapest", 3),
    (NARROW, [("organic", "least", "3.40")], "cheapest", 3),
    (NARROW, [("organic", "least", "3.50"), ("glycerin", "least", "4.05")], "cheapest", 2),
    (NARROW, [("glycerin", "most", "3.95"), ("glycerin", "least", "3.91")], "cheapest", 1),
    (NARROW, [("organic", "least", "3.70"), ("cost", "most", "0.35")], "smallest", 3),
    (TWO, [("natural-origin", "least", "96.99")], "smallest", 2),
    (TWO, [("natural-origin", "least", "96.99"), ("organic", "least", "4.00")], "smallest", 2),
    (TWO, [("organic", "least", "3.999"), ("cost", "most", "0.44")], "cheapest", 2),
    (TWO, [("organic without water", "least", "30.00")], "smallest", 2),
    (TWO, [("organic without water", "least", "31.50"), ("natural-origin", "least", "96.50")], "smallest", 2),
    (TWO, [("natural-origin without water", "least", "72.00")], "smallest", 1),
    (TWO, [("organic without water", "least", "33.33")], "cheapest", 2),
    (TWO, [("organic without water", "least", "99.00")], "smallest", 2),
    (FOUR, [("natural-origin", "least", "96.35"), ("organic", "least", "3.44")], "smallest", 2),
    (
        FOUR,
        [("natural-origin", "least", "96.35"), ("organic", "least", "3.45"), ("cost", "most", "0.415")],
        "smallest",
        3,
    ),
    (FOUR, [("ester", "least", "2.53"), ("cost", "most", "0.401")], "smallest", 3),
    (FOUR, [("organic", "least", "3.42")], "cheapest", 3),
    (FOUR, [("organic", "most", "3.41"), ("natural-origin", "most", "96.28")], "smallest", 3),
    (BENZYL, [("benzyl", "least", "1.00")], "smallest", 2),
    (BENZYL, [("benzyl", "least", "1.01")], "smallest", 2),
    (BENZYL, [("natural-origin", "least", "96.40"), ("benzyl", "least", "0.97")], "smallest", 2),
]


@pytest.mark.parametrize(("spans", "wants", "by", "most"), CASES)
def test_thirty_targets_whose_best_answer_is_known(
    spans: dict[str, tuple[str, str]], wants: list[Want], by: str, most: int
) -> None:
    cream = formula()
    words = [f"{what.removesuffix(' without water')} at {side} {number}{_unit(what)}" for what, side, number in wants]
    words = [
        f"{text} without water" if "without water" in want[0] else text for text, want in zip(words, wants, strict=True)
    ]
    targets = [read_target(text, cream, TERMS) for text in words]
    found = propose(cream, targets, moving(cream, spans), TERMS, by=by, most=most)
    known = best(spans, wants, by, most)
    if known is None:
        assert found.formula is None
        assert found.conflict is not None
        _check_conflict(found, spans, wants, words, most)
        return
    assert found.formula is not None, found
    amounts = {name: Fraction(pct) for name, pct in AMOUNTS.items()}
    change = sum((abs(one.after - one.before) for one in found.moved if not one.rest), Fraction(0)) * 100
    for one in found.moved:
        if not one.rest:
            amounts[one.charge.ingredient] = one.after
    assert known == ((change,) if by == "smallest" else (value(amounts, "cost"), change))
    for reached, (what, side, number) in zip(found.reached, wants, strict=True):
        assert value(amounts, what) == reached.after
        assert reached.after >= Fraction(number) if side == "least" else reached.after <= Fraction(number)
    assert not [one for one in judge(found.formula, TERMS.day) if one.severity == "block"]


def _unit(what: str) -> str:
    return " EUR/kg" if what == "cost" else " %"


def _check_conflict(
    found: Proposal, spans: dict[str, tuple[str, str]], wants: list[Want], words: list[str], most: int
) -> None:
    """Hold a conflict against trying: its targets cannot hold together, and without any one of them the others can."""
    assert found.conflict is not None
    named = [words.index(target.words) for target in found.conflict.targets]
    assert named
    assert best(spans, [wants[i] for i in named], "smallest", most) is None
    for left_out in named:
        rest = [wants[i] for i in named if i != left_out]
        assert not rest or best(spans, rest, "smallest", most) is not None


def test_how_far_a_single_target_goes_is_said() -> None:
    """Shea to 3.30 %: 3.125 moves in whole 0.01 to 3.295; 0.9 times that and a quarter of 2.5 of ester are 3.5905."""
    cream = formula()
    target = read_target("organic at least 3.70 %", cream, TERMS)
    found = propose(cream, [target], moving(cream, NARROW), TERMS)
    assert found.conflict is not None
    assert found.conflict.reach == Fraction("3.5905")


def test_without_a_balance_the_largest_charge_takes_the_rest() -> None:
    cream = formula(balance="87.925")
    target = read_target("natural-origin at least 97 %", cream, TERMS)
    found = propose(cream, [target], moving(cream, {"glycol": ("0", "2")}), TERMS)
    assert found.formula is not None
    assert [(one.charge.ingredient, one.after, one.rest) for one in found.moved] == [
        ("water", Fraction("88.625"), True), ("glycol", Fraction("0.80"), False),
    ]  # fmt: skip
    assert not [one for one in judge(found.formula, TERMS.day) if one.rule == "total"]


def test_what_holds_already_moves_nothing() -> None:
    cream = formula()
    found = propose(cream, [read_target("cost at most 9.00 EUR/kg", cream, TERMS)], movable(cream), TERMS)
    assert found.formula is not None
    assert found.moved == ()


def test_a_claim_that_the_recipe_makes_stays_kept() -> None:
    """To save by less shea is closed where the recipe claims organic at least 3.3 %."""
    cream = formula(extra='claims = ["organic at least 3.3 %"]')
    target = read_target("cost at most 0.39 EUR/kg", cream, TERMS)
    found = propose(cream, [target], moving(cream, {"shea": ("0", "4"), "glycerin": ("0", "4")}), TERMS)
    assert found.formula is not None
    amounts = {name: Fraction(pct) for name, pct in AMOUNTS.items()}
    amounts.update({one.charge.ingredient: one.after for one in found.moved if not one.rest})
    assert Fraction("3.3") <= value(amounts, "organic")
    assert value(amounts, "cost") <= Fraction("0.39")


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        ("cost at most 2.00", "has no unit"),
        ("cost at most 2.00 USD/kg", "costs are in EUR here"),
        ("natural-origin at least 120 %", "more than all there is"),
        ("natural-origin 98 %", "write it like"),
        ("natural-orign at least 98 %", "natural_origin"),
        ("nothing-of-it at least 98 %", "nothing in this recipe is called so"),
        ("glycerin at least 3 % without water", "only figures"),
        ("glycerin at least -3 %", "is no number"),
        ("glycerin at least 1e9 %", "is no number"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(words: str, problem: str) -> None:
    cream = formula()
    with pytest.raises(UserError, match=problem):
        read_target(words, cream, TERMS)


def test_a_figure_that_is_no_sum_is_refused_and_a_missing_fact_is_named() -> None:
    cream = formula()
    with pytest.raises(UserError, match="cannot be asked"):
        propose(cream, [read_target("water-activity at most 0.9", cream, TERMS)], movable(cream), TERMS)
    texts = {**files(), "ingredients/shea.toml": files()["ingredients/shea.toml"].replace("organic = 0.9\n", "")}
    with Snapshot(Files(texts)) as snapshot:
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        lacking = snapshot.formula(recipe)
    with pytest.raises(UserError, match="shea"):
        propose(lacking, [read_target("organic at least 3 %", lacking, TERMS)], movable(lacking), TERMS)


@pytest.mark.parametrize(
    "wants", [["natural-origin at least 96.9 %", "organic at least 3.9 %", "cost at most 0.43 EUR/kg"]]
)
def test_beyond_three_charges_the_solver_is_no_worse(wants: list[str]) -> None:
    pytest.importorskip("highspy")
    cream = formula()
    spans = {"glycerin": ("3", "5"), "glycol": ("0.5", "3"), "shea": ("2", "5"), "ester": ("1", "4")}
    targets = [read_target(text, cream, TERMS) for text in wants]
    three = propose(cream, targets, moving(cream, spans), TERMS, most=3)
    four = propose(cream, targets, moving(cream, spans), TERMS, most=4)
    assert four.formula is not None
    if three.formula is not None:
        changes = [sum(abs(one.after - one.before) for one in found.moved if not one.rest) for found in (three, four)]
        assert changes[1] <= changes[0]


def test_a_limit_is_kept_by_what_is_proposed_without_a_target() -> None:
    texts = files()
    texts["cream.toml"] = texts["cream.toml"].replace("benzyl = 0.95", "benzyl = 1.10")
    with Snapshot(Files(texts)) as snapshot:
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        over = snapshot.formula(recipe)
    found = propose(over, [], [one for one in movable(over) if one.knob.path[3] == "benzyl"], TERMS)
    assert found.formula is not None
    assert [(one.charge.ingredient, one.after) for one in found.moved if not one.rest] == [("benzyl", Fraction(1))]
    with pytest.raises(UserError, match="nothing blocks"):
        propose(formula(), [], movable(formula()), TERMS)
