"""Laws of effects: the shares add up to the last digit, whatever moved at once, above the recipe or under it."""

from __future__ import annotations

import copy
from collections.abc import Callable
from fractions import Fraction

from hypothesis import assume, given, note, settings
from hypothesis import strategies as st

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Change
from formula_vcs.diff.counterfactuals import Counterfactuals
from formula_vcs.diff.diff import diff
from formula_vcs.diff.effects import Share, effects
from formula_vcs.diff.label_order import label_moves
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES, figures
from tests.laws import strategies as laws
from tests.laws.strategies import DAY, RECIPE, Book, Draw, formula

TERMS = Terms(DAY)
UNDER: tuple[Callable[[Draw, Book], str], ...] = (laws.price, laws.origin, laws.premix, laws.default)
ABOVE: tuple[Callable[[Draw, Book], str], ...] = (laws.removed, laws.added, laws.amount, laws.moved, laws.grade_swap)


@st.composite
def all_at_once(draw: Draw) -> tuple[Book, Book]:
    """Build a workspace, and the same with prices, indices, a premix and defaults moved, lines come and lines gone."""
    old = draw(laws.books())
    for name in ("water", "glycerin", "oil", "acid"):  # so that costs are known more often than not
        old[f"ingredients/{name}.toml"]["price"] = [{"cost": f"{draw(st.integers(1, 99))} EUR/kg"}]
    new = copy.deepcopy(old)
    for edit in (*UNDER, *draw(st.lists(st.sampled_from(ABOVE), min_size=2, max_size=4))):
        trial = copy.deepcopy(new)
        try:
            edit(draw, trial)
        except (laws.NotHere, KeyError, ValueError):
            continue
        new = trial
    return old, new


def _total(shares: tuple[Share, ...]) -> Fraction:
    return sum((share.value for share in shares), Fraction(0))


@settings(max_examples=40)
@given(all_at_once())
def test_shares_add_up_whatever_moved_at_once(pair: tuple[Book, Book]) -> None:
    """And every figure that differs is among the effects, with its values on both sides."""
    old, new = map(formula, pair)
    changes = diff(old, new)
    found = {effect.figure: effect for effect in effects(old, new, changes, TERMS)}
    before, after = (figures(Breakdown(side), TERMS) for side in (old, new))
    note("\n".join(change.text for change in changes))
    for name in FIGURES:
        differs = (before[name].value, before[name].unit) != (after[name].value, after[name].unit)
        assert differs == (name in found), name
    for name, effect in found.items():
        assert (before[name].value, after[name].value) == (effect.before.value, effect.after.value)
        if effect.shares:
            assert effect.difference == _total(effect.shares), name


@settings(max_examples=30)
@given(all_at_once(), st.randoms(use_true_random=False))
def test_shares_hang_on_no_order(pair: tuple[Book, Book], chance: object) -> None:
    old, new = map(formula, pair)
    changes = [change for change in diff(old, new) if not change.derived]
    other_way = list(changes)
    chance.shuffle(other_way)  # type: ignore[attr-defined]
    one, other = (
        {effect.figure: {share.change: share.value for share in effect.shares} for effect in found}
        for found in (effects(old, new, order, TERMS) for order in (changes, other_way))
    )

    assert one == other


@settings(max_examples=15)
@given(all_at_once())
def test_shares_are_the_mean_over_all_orders(pair: tuple[Book, Book]) -> None:
    """Worked out another way: every order of up to five changes, one after the other (Shapley 1953)."""
    from itertools import permutations
    from math import factorial

    old, new = map(formula, pair)
    changes = [change for change in diff(old, new) if not change.derived]
    assume(2 <= len(changes) <= 5)
    names = ("density", "natural_origin_without_water", "cost_per_kg", "water")
    found = {effect.figure: effect for effect in effects(old, new, changes, TERMS, names)}
    known: dict[frozenset[str], dict[str, Fraction | None]] = {}

    def worth(some: tuple[Change, ...]) -> dict[str, Fraction | None]:
        key = frozenset(change.id for change in some)
        if key not in known:
            values = figures(Breakdown(apply(old, some)), TERMS, names)
            known[key] = {name: figure.value for name, figure in values.items()}
        return known[key]

    for name, effect in found.items():
        if not effect.shares or effect.evened:
            continue
        means = dict.fromkeys((change.id for change in changes), Fraction(0))
        for order in permutations(changes):
            for position, change in enumerate(order):
                less, more = (worth(order[: position + after])[name] for after in (0, 1))
                assume(less is not None and more is not None)
                means[change.id] += ((more or Fraction(0)) - (less or Fraction(0))) / factorial(len(changes))

        assert {change: mean for change, mean in means.items() if mean} == {s.change: s.value for s in effect.shares}


@settings(max_examples=30)
@given(all_at_once())
def test_places_in_the_label_add_up(pair: tuple[Book, Book]) -> None:
    old, new = map(formula, pair)
    changes = diff(old, new)
    trials = Counterfactuals(old, changes, new)
    for move in label_moves(old, new, trials, DAY):
        note(str(move))
        assert move.causes
        if move.shares:
            assert move.before is not None
            assert move.after is not None
            assert move.after - move.before == _total(move.shares)


@settings(max_examples=25)
@given(all_at_once())
def test_a_label_move_goes_without_any_one_of_its_causes(pair: tuple[Book, Book]) -> None:
    """Of a name that came or went: with its causes it does, without any one of them it does not."""
    from formula_vcs.diff.label_order import market_of
    from formula_vcs.law.labelling import ingredient_list
    from formula_vcs.model.ingredient import inci_key

    old, new = map(formula, pair)
    changes = {change.id: change for change in diff(old, new)}
    for move in label_moves(old, new, Counterfactuals(old, tuple(changes.values()), new), DAY):
        if move.before is not None and move.after is not None:
            continue

        def there(some: list[str], name: str = inci_key(move.name)) -> bool:
            side = apply(old, [changes[one] for one in some])
            return name in {inci_key(line.inci) for line in ingredient_list(Breakdown(side), DAY, market_of(new))}

        came = move.before is None
        assert move.causes is not None
        assert came == there(list(move.causes))
        for one in move.causes:
            assert came != there([other for other in move.causes if other != one])


def test_the_figures_that_are_not_linear_are_among_the_effects() -> None:
    """Density, water activity and free acid of one change: all of the difference is its."""
    book: Book = {
        "workspace.toml": {"title": "Shed"},
        f"{RECIPE}.toml": {
            "title": "Toner",
            "spec": {"pH": "4.8 to 5.2"},
            "phase": {"A": {"charge": {"water": "to 100", "glycerin": 10, "benzoate": 1}}},
        },
        "ingredients/water.toml": {"title": "W", "density": "1 g/mL", "substances": {"Aqua": 100}},
        "ingredients/glycerin.toml": {"title": "G", "density": "1.26 g/mL", "substances": {"Glycerin": 100}},
        "ingredients/benzoate.toml": {"title": "B", "density": "1.5 g/mL", "substances": {"Sodium Benzoate": 100}},
    }
    after = copy.deepcopy(book)
    after[f"{RECIPE}.toml"]["phase"]["A"]["charge"] |= {"glycerin": 20, "benzoate": 2}
    old, new = formula(book), formula(after)
    found = {effect.figure: effect for effect in effects(old, new, diff(old, new), TERMS)}

    for name in ("density", "water_activity", "free_acid"):
        assert found[name].difference
        assert found[name].difference == _total(found[name].shares)
        assert not found[name].evened
        assert {"amount:phase/A/charge/glycerin", "amount:phase/A/charge/benzoate"} >= {
            share.change for share in found[name].shares
        }
