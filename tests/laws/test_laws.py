"""Laws that hold for every workspace, tried on generated ones."""

from __future__ import annotations

import copy
import itertools
import random
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given, note, settings
from hypothesis import strategies as st

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Change
from formula_vcs.diff.counterfactuals import Counterfactuals, all_findings, causes, cures, raises
from formula_vcs.diff.diff import diff
from formula_vcs.diff.effects import effects
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES, figures
from formula_vcs.figures.ingredient_list import label
from formula_vcs.model.formula import Formula
from formula_vcs.words.numbers import apportion, exact_text, rounded, shown
from tests.laws import strategies as laws
from tests.laws.strategies import DAY, EDITS, RECIPE, Book, formula

TERMS = Terms(DAY)
ANY_PAIR = st.one_of(
    laws.edited_often(),
    laws.crossed(laws.books()),
    laws.crossed(laws.broken_books()),
    st.tuples(laws.books(), laws.books()),
    st.tuples(laws.broken_books(), laws.broken_books()),
)


def real(changes: tuple[Change, ...]) -> list[Change]:
    return [change for change in changes if not change.derived]


class TestADiffIsAPatch:
    """A diff leaves nothing out, says nothing twice, and can be applied in part."""

    @settings(max_examples=120)
    @given(ANY_PAIR)
    def test_applied_it_gives_the_other_side(self, pair: tuple[Book, Book]) -> None:
        old, new = map(formula, pair)
        changes = diff(old, new)
        note("\n".join(change.text for change in changes))

        assert new == apply(old, changes)

    @settings(max_examples=60)
    @given(st.one_of(laws.books(), laws.broken_books()))
    def test_nothing_differs_from_itself(self, book: Book) -> None:
        assert () == diff(formula(book), formula(book))

    @settings(max_examples=70)
    @given(ANY_PAIR, st.integers(0, 2**32))
    def test_any_part_of_it_can_be_applied_in_any_order(self, pair: tuple[Book, Book], seed: int) -> None:
        old, new = map(formula, pair)
        chance = random.Random(seed)
        part = [change for change in diff(old, new) if chance.random() < 0.5]
        other_way = chance.sample(part, len(part))
        there = apply(old, part)

        assert there == apply(old, other_way)
        # what comes of it can be computed and judged
        figures(Breakdown(there), TERMS)
        all_findings(there, DAY)

    @settings(max_examples=70)
    @given(ANY_PAIR)
    def test_it_is_empty_only_where_the_meaning_is_the_same(self, pair: tuple[Book, Book]) -> None:
        """And what it says, it says once: no two changes have one id."""
        old, new = map(formula, pair)
        ids = [change.id for change in diff(old, new)]

        assert (old == new) == (not ids)
        assert sorted(set(ids)) == sorted(ids)

    @settings(max_examples=80)
    @given(laws.books(), st.integers(0, 2**32))
    def test_layout_is_no_change(self, book: Book, seed: int) -> None:
        note(laws.written(book, seed)[f"{RECIPE}.toml"])

        assert [] == [change.text for change in diff(formula(book), formula(book, seed))]


class TestADiffIsMinimal:
    """One edit is one change, of the kind that a chemist would call it."""

    @pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit.__name__)
    def test_one_edit_is_one_change(self, edit: Callable[..., str]) -> None:
        @settings(max_examples=10)
        @given(laws.edited(edit))
        def check(case: tuple[Book, Book, str] | None) -> None:
            assume(case is not None)
            assert case is not None
            old, new, kind = case
            found = real(diff(formula(old), formula(new)))
            note("\n".join(f"{change.id}: {change.text}" for change in found))

            assert [kind] == [change.kind for change in found]

        check()


class TestEffects:
    """How much each change brought adds up to the difference."""

    @settings(max_examples=40)
    @given(laws.edited_often(most=4))
    def test_shares_sum_to_the_difference(self, pair: tuple[Book, Book]) -> None:
        old, new = map(formula, pair)
        changes = diff(old, new)
        derived = {change.id for change in changes if change.derived}
        for effect in effects(old, new, changes, TERMS):
            if not effect.shares:
                continue

            assert effect.difference == sum((share.value for share in effect.shares), Fraction(0)), effect.figure
            assert set() == derived & {share.change for share in effect.shares}

    @settings(max_examples=40)
    @given(laws.edited_often(most=4))
    def test_a_known_difference_always_has_shares(self, pair: tuple[Book, Book]) -> None:
        """Shares are left out only where some combination of the changes has no such figure."""
        old, new = map(formula, pair)
        changes = diff(old, new)
        parts = [
            Breakdown(apply(old, chosen))
            for size in range(len(real(changes)) + 1)
            for chosen in itertools.combinations(real(changes), size)
        ]
        for effect in effects(old, new, changes, TERMS):
            if effect.difference and not effect.shares:
                values = [FIGURES[effect.figure](sums, TERMS) for sums in parts]

                assert any(f.value is None or f.unit != effect.before.unit for f in values), effect.figure

    @settings(max_examples=60)
    @given(st.data())
    def test_cost_is_split_as_bennet_does(self, data: st.DataObject) -> None:
        """An amount counts (p0+p1)/2 x (q1-q0), less that of the balance it displaces; a price (q0+q1)/2 x (p1-p0)."""
        names = ("glycerin", "oil", "acid")
        quantity = st.integers(0, 3000).map(lambda cents: Decimal(cents).scaleb(-2))
        q0, q1 = ({name: data.draw(quantity) for name in names} for _ in "01")
        price = st.integers(1, 5000).map(lambda cents: Decimal(cents).scaleb(-2))
        p0, p1 = ({name: data.draw(price) for name in ("water", *names)} for _ in "01")
        old, new = (_priced(*side) for side in ((q0, p0), (q1, p1)))
        found = {effect.figure: effect for effect in effects(old, new, diff(old, new), TERMS)}
        shares = {share.change: share.value for share in found["cost_per_kg"].shares} if "cost_per_kg" in found else {}

        def mean(pair: tuple[dict[str, Decimal], dict[str, Decimal]], name: str) -> Fraction:
            return Fraction(pair[0][name] + pair[1][name]) / 2

        expected: dict[str, Fraction] = {}
        for name in names:
            worth = mean((p0, p1), name) - mean((p0, p1), "water")
            expected[f"amount:phase/A/charge/{name}"] = Fraction(q1[name] - q0[name]) / 100 * worth
            expected[f"price:ingredient/{name}/price"] = mean((q0, q1), name) / 100 * Fraction(p1[name] - p0[name])
        water = 100 - sum((mean((q0, q1), name) for name in names), Fraction(0))
        expected["price:ingredient/water/price"] = water / 100 * Fraction(p1["water"] - p0["water"])

        assert {change: value for change, value in expected.items() if value} == shares


def _priced(quantities: dict[str, Decimal], prices: dict[str, Decimal]) -> Formula:
    book: Book = {
        "workspace.toml": {"title": "Shed", "currency": "EUR"},
        f"{RECIPE}.toml": {"title": "Cream", "phase": {"A": {"charge": {"water": "to 100", **quantities}}}},
    }
    for name, price in prices.items():
        substances = dict(laws.MATERIALS[name])
        cost = [{"cost": f"{price} EUR/kg"}]
        book[f"ingredients/{name}.toml"] = {"title": name, "substances": substances, "price": cost}
    return formula(book)


class TestCauses:
    """A new finding is laid at the door of the changes that bring it, and of no others."""

    @settings(max_examples=40)
    @given(laws.edited_often(most=4))
    def test_without_any_one_of_its_causes_a_finding_goes(self, pair: tuple[Book, Book]) -> None:
        old, new = map(formula, pair)
        changes = diff(old, new)
        fresh = [finding for finding in all_findings(new, DAY) if not raises(old, finding, DAY)]
        for finding in fresh[:4]:
            named = causes(old, changes, finding, DAY)
            chosen = [change for change in changes if change.id in named]
            note(f"{finding.message}: {named}")

            assert named
            assert raises(apply(old, chosen), finding, DAY)
            for change in chosen:
                assert not raises(apply(old, [other for other in chosen if other is not change]), finding, DAY)

    @settings(max_examples=25)
    @given(laws.edited_often(most=4))
    def test_without_any_one_of_its_cures_a_finding_is_back(self, pair: tuple[Book, Book]) -> None:
        old, new = map(formula, pair)
        trials = Counterfactuals(old, diff(old, new), new)
        gone = [finding for finding in all_findings(old, DAY) if not raises(new, finding, DAY)]
        for finding in gone[:4]:
            named = cures(trials, finding, DAY)
            chosen = [change for change in trials.changes if change.id in named]
            note(f"{finding.message}: {named}")

            assert named
            assert not raises(apply(old, chosen), finding, DAY)
            for change in chosen:
                assert raises(apply(old, [other for other in chosen if other is not change]), finding, DAY)


class TestFigures:
    """Taking a formula apart loses nothing."""

    @settings(max_examples=60)
    @given(laws.books())
    def test_raw_materials_add_up_to_the_total(self, book: Book) -> None:
        sums = Breakdown(formula(book))
        insides = [sums.premix(recipe.id) for recipe in sums.formula.premixes.values()]
        assume(not sums.composition.is_open and not any(inside.is_open for inside in insides))
        assume(all(inside.measure != "%" or inside.total == 100 for inside in insides))
        lines = sum((line.pct for line in sums.composition.lines), Fraction(0))

        assert lines / 100 == sum(sums.leaves.values(), Fraction(0))
        assert lines == sum(sums.substances.values(), Fraction(0))

    @settings(max_examples=40)
    @given(laws.books())
    def test_a_total_is_what_the_lines_add_up_to(self, book: Book) -> None:
        composition = Breakdown(formula(book)).composition
        lines = sum((line.pct for line in composition.lines), Fraction(0))

        assert (composition.total if composition.measure == "%" else 100 * bool(composition.total)) == lines

    @settings(max_examples=40)
    @given(laws.edited(laws.split))
    def test_splitting_a_charge_changes_no_figure(self, case: tuple[Book, Book, str] | None) -> None:
        assume(case is not None)
        assert case is not None
        old, new = (figures(Breakdown(formula(book)), TERMS) for book in case[:2])

        assert {name: f.value for name, f in old.items()} == {name: f.value for name, f in new.items()}

    @settings(max_examples=40)
    @given(laws.books(), st.sampled_from(laws.PREMIXES))
    def test_a_premix_counts_as_its_parts(self, book: Book, name: str) -> None:
        """Charging what is in a premix, in its proportions, gives the same figures as charging the premix."""
        inside = Breakdown(formula({**book, f"{RECIPE}.toml": book[f"{name}.toml"]})).composition
        assume(not inside.is_open and inside.total > 0 and (inside.measure != "%" or inside.total == 100))
        # parts, so that no proportion has to be a finite decimal
        parts = {key: _decimal(pct * 10**6) for key, pct in inside.by_ingredient().items()}
        whole = _decimal(Fraction(10**8))
        assume(whole is not None and all(part is not None and part >= 0 for part in parts.values()))
        new = copy.deepcopy(book)
        new[f"ingredients/{name}.toml"] = {"title": name, "recipe": name}
        base = {"title": "Cream", "amounts": "parts"}
        new[f"{RECIPE}.toml"] = {**base, "phase": {"A": {"charge": {name: whole}}}}
        through = figures(Breakdown(formula(new)), TERMS)
        new[f"{RECIPE}.toml"] = {**base, "phase": {"A": {"charge": parts}}}
        directly = figures(Breakdown(formula(new)), TERMS)

        assert {n: f.value for n, f in directly.items()} == {n: f.value for n, f in through.items()}

    @settings(max_examples=60)
    @given(laws.books(), st.sampled_from(["EU", "US"]))
    def test_a_label_names_each_substance_once_in_falling_order(self, book: Book, market: str) -> None:
        sums = Breakdown(formula(book))
        lines = label(sums, market)
        present = sorted(pct for pct in sums.substances.values() if pct > 0)

        assert present == sorted(line.pct for line in lines)
        assert len({line.inci.casefold() for line in lines}) == len(lines)
        parts = [line.part for line in lines]
        assert sorted(parts, key=["ordered", "free", "colorant"].index) == parts
        for part in ("ordered", "free", "colorant"):
            pcts = [line.pct for line in lines if line.part == part]
            assert sorted(pcts, reverse=True) == pcts
        assert all(line.pct < 1 for line in lines if line.part == "free" and market == "EU")


def _decimal(value: Fraction) -> Decimal | None:
    """Give the value as a decimal that a file may hold, where there is one."""
    text = exact_text(value)
    return Decimal(text) if "/" not in text and len(text) < 25 else None


FRACTIONS = st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**6)


class TestNumbers:
    """Numbers are exact, and rounded only to be shown."""

    @given(st.lists(FRACTIONS, max_size=12), st.integers(0, 4))
    def test_rounded_parts_add_up_to_the_rounded_whole(self, values: list[Fraction], places: int) -> None:
        parts = apportion(values, places)
        whole = rounded(sum(values, Fraction(0)), places)

        assert whole == sum(parts, Decimal(0))
        unit = Fraction(1, 10**places)
        assert all(abs(Fraction(part) - value) < unit for part, value in zip(parts, values, strict=True))

    @given(FRACTIONS)
    def test_exact_text_can_be_read_back(self, value: Fraction) -> None:
        assert value == Fraction(exact_text(value))

    @given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=12))
    def test_exact_text_of_a_decimal_is_a_decimal(self, value: Decimal) -> None:
        assert value == Decimal(exact_text(Fraction(value)))

    @given(FRACTIONS)
    def test_what_is_shown_is_within_half_a_unit(self, value: Fraction) -> None:
        assert abs(Fraction(shown(value)) - value) <= Fraction(1, 200)
