"""What counts as having moved since a version was tested, how far, and what does not count."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest

from formula_vcs.evidence.drift.drift import Conditions, Drift
from formula_vcs.evidence.drift.measure import measure
from formula_vcs.units.unit_reading import read_quantity
from tests.helpers_demo import Edit, demo

DAY = datetime.date(2026, 6, 22)
CREAM = "hand-cream.toml"


def moved(*edits: Edit, recipe: str = "hand-cream", conditions: Conditions | None = None) -> list[Drift]:
    """Measure a demo recipe with edits against itself without."""
    return list(measure(demo(recipe), demo(recipe, *edits), conditions or Conditions(DAY)))


def classes(*edits: Edit, recipe: str = "hand-cream") -> dict[str, str]:
    """Give the classes of what moved, with what moved."""
    return {drift.when: drift.about for drift in moved(*edits, recipe=recipe)}


def one(when: str, *edits: Edit, recipe: str = "hand-cream", conditions: Conditions | None = None) -> Drift:
    """Give the one drift of a class."""
    (found,) = [drift for drift in moved(*edits, recipe=recipe, conditions=conditions) if drift.when == when]
    return found


def test_an_amount_is_measured_relative_to_what_it_was() -> None:
    found = one("amount", (CREAM, "= 5.00\nkelp", "= 4.40\nkelp"))

    assert ("glycerin", Fraction(12, 100)) == (found.about, found.size)
    assert "glycerin \u221212 % of its amount" == found.text
    assert "humectant" in found.functions


def test_the_balance_only_fills_up() -> None:
    assert {"amount", "water-activity"} == set(classes((CREAM, "= 5.00\nkelp", "= 4.95\nkelp")))


def test_all_relative_changes_are_added_up_whichever_way_they_go() -> None:
    edits = (CREAM, "= 5.00\nkelp", "= 4.80\nkelp"), (CREAM, "cetearyl-alcohol      = 1.50", "cetearyl-alcohol = 1.56")

    assert Fraction(8, 100) == one("sum", *edits).size


def test_an_amount_that_is_not_settled_is_said_so_and_nothing_else_is_made_of_it() -> None:
    found = moved((CREAM, "cetearyl-alcohol      = 1.50", 'cetearyl-alcohol = "q.s."'))

    assert ["cetearyl-alcohol: its amount is not settled"] == [d.text for d in found if d.when in ("amount", "removed")]


def test_a_premix_is_seen_through() -> None:
    """The same oils weighed one by one, as they stand in the premix, are no change of the formula."""
    inside = "calendula-oil = 0.48\nrosehip-oil = 0.40\nsea-buckthorn-oil = 0.06\ntocopherol-70 = 0.02\n"
    edits = [
        (CREAM, "hedgerow-oils  = 2.00\n", inside),
        (CREAM, "sunflower-oil-organic = 4.00", "sunflower-oil-organic = 5.04"),
    ]

    assert not {"amount", "sum", "added", "removed", "grade"} & set(classes(*edits))


def test_what_is_in_a_premix_counts_for_what_it_is_of_the_product() -> None:
    found = one("amount", ("premixes/kelp-gel-4.toml", "kelp-gum    = 4.00", "kelp-gum = 4.20"))

    assert ("kelp-gum", Fraction(5, 100)) == (found.about, found.size)


@pytest.mark.parametrize(
    ("edits", "when", "about"),
    [
        ([(CREAM, "corn-starch    = {", "kaolin-white = 1.00\ncorn-starch = {")], "added", "kaolin-white"),
        ([(CREAM, "lavender-oil   = 0.15\n", "")], "removed", "lavender-oil"),
        ([(CREAM, "glycerin          = 5.00", "glycerin-86 = 5.00")], "grade", "glycerin-86"),
        ([("ingredients/glycerin.toml", "[substances]", '[substances]\n"Sorbitol" = 0.10')], "material", "glycerin"),
        ([(CREAM, 'title   = "Skerry hand cream"', 'title = "Skerry balm"')], "name", "title"),
        ([(CREAM, 'product = "hand cream"', 'product = "body lotion"')], "product", "product"),
        ([(CREAM, 'markets = ["EU", "US"]', 'markets = ["EU", "US", "CA"]')], "markets", "CA"),
        ([(CREAM, "at least 95 %", "at least 96 %")], "claims", "natural-origin at least 96 %"),
        ([(CREAM, 'pack    = "75 mL"', 'pack = "50 mL"')], "pack", "pack"),
        ([(CREAM, 'pH        = "4.8 to 5.2"', 'pH = "4.8 to 5.3"')], "pH", "pH"),
        ([(CREAM, 'viscosity = "18 to 28 Pa*s"', 'viscosity = "15 to 28 Pa*s"')], "spec", "viscosity"),
        ([(CREAM, "citric-acid-50 = {", "lactic-acid-80 = {"), (CREAM, "C/citric-acid-50", "C/lactic-acid-80")],
         "adjuster-kind", "lactic-acid-80"),
        ([(CREAM, "glyceryl-caprylate    = 0.50\n", ""), (CREAM, "lavender-oil   = 0.15",
          "glyceryl-caprylate = 0.50\nlavender-oil = 0.15")], "order", "glyceryl-caprylate"),
    ],
)  # fmt: skip
def test_each_class(edits: list[Edit], when: str, about: str) -> None:
    assert about in [drift.about for drift in moved(*edits) if drift.when == when]


@pytest.mark.parametrize(
    "edits",
    [
        [("ingredients/shea-butter.toml", 'cost  = "', 'cost  = "1')],
        [("ingredients/glycerin.toml", "supplier statement, ", "a statement, ")],
        [("ingredients/glycerin.toml", "rapeseed, palm-free", "sunflower")],
        [(CREAM, "note    = ", 'note = "x" # note = ')],
        [(CREAM, 'pH        = "4.8 to 5.2"', 'pH = "4.9 to 5.1"'), (CREAM, 'accept  = "4.8 to 5.2"',
          'accept = "4.9 to 5.1"')],
        [(CREAM, 'temp  = "72 to 78 degC"', 'temp = "74 to 76 degC"')],
        [(CREAM, "glycerin          = 5.00", "glycerin = 5.0")],
        [("workspace.toml", "title", 'note = "x"\ntitle')],
    ],
    ids=["price", "paper", "note of a material", "note", "tighter pH", "tighter temperature", "digits", "workspace"],
)  # fmt: skip
def test_what_is_no_drift(edits: list[Edit]) -> None:
    assert [] == moved(*edits)


_ODOUR = (CREAM, 'pH        = "4.8', 'odour = { is = "of roses", method = "panel of 3" }\npH        = "4.8')


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("odour = { is", "colour = { is", "odour: 'of roses' was tested, and no odour is stated now"),
        ("of roses", "of lilac", "odour: 'of roses' was tested, 'of lilac' is stated now"),
        (
            "panel of 3",
            "panel of 2",
            "odour was tested as of roses (panel of 3), and is stated as of roses (panel of 2)",
        ),
    ],
)
def test_words_and_methods_of_the_spec_drift_too(old: str, new: str, words: str) -> None:
    found = measure(demo("hand-cream", _ODOUR), demo("hand-cream", _ODOUR, (CREAM, old, new)), Conditions(DAY))

    assert [True] == [words in drift.text for drift in found if drift.when == "spec"]


def test_a_supplier_and_a_grade_are_told_apart() -> None:
    same_grade = ("ingredients/glycerin.toml", 'supplier  = "', 'supplier  = "New ')
    code = ("ingredients/glycerin.toml", 'code      = "', 'code      = "X')

    assert {"supplier": "glycerin"} == classes(same_grade)
    assert {"grade": "glycerin"} == classes(code)


def test_a_preservative_is_known_by_the_law_too() -> None:
    """Sodium Benzoate is V/1 of Regulation (EC) No 1223/2009, whatever functions its file states."""
    said = 'functions = ["preservative"]'
    edits = [("ingredients/sodium-benzoate.toml", said, 'functions = ["salt"]')]
    old, new = demo("hand-cream", *edits), demo("hand-cream", *edits, (CREAM, "benzoate   = 0.40", "benzoate = 0.41"))

    (found,) = [drift for drift in measure(old, new, Conditions(DAY)) if drift.when == "amount"]
    assert "preservative" in found.functions


class TestTheProcess:
    """Steps, shear, machines, ranges, order."""

    @pytest.mark.parametrize(
        ("edit", "when", "about"),
        [
            ((CREAM, 'id    = "even-out"', 'id = "even"'), "step", "even-out"),
            ((CREAM, 'speed = "36 rpm"\ntime  = "70', 'speed = "40 rpm"\ntime  = "70'), "range", "cool/speed"),
            ((CREAM, 'time  = "70 min"', 'time = "75 min"'), "range", "cool/time"),
            ((CREAM, 'temp  = "38 to 42 degC"', 'temp = "38 to 45 degC"'), "temperature", "cool/temp"),
            ((CREAM, 'rest = "12 h"', 'rest = "6 h"'), "range", "overnight/rest"),
        ],
    )
    def test_each_class(self, edit: Edit, when: str, about: str) -> None:
        assert about in [drift.about for drift in moved(edit) if drift.when == when]

    def test_how_far_beyond_the_range(self) -> None:
        assert Fraction(1, 2) == one("range", (CREAM, 'time  = "6 min"', 'time  = "9 min"')).size
        assert Fraction(3) == one("temperature", (CREAM, '"72 to 78 degC"', '"72 to 81 degC"')).size
        assert Fraction(2) == one("temperature", (CREAM, '"72 to 78 degC"', '"70 to 78 degC"')).size

    def test_shear_by_the_mode_that_a_step_states(self) -> None:
        rotor = 'mixer = "plant-rotor-stator"\nspeed = "3000 rpm"\ntime  = "6'
        found = one("shear", (CREAM, f'shear = "high"\n{rotor}', f'shear = "low"\n{rotor}'))

        assert "step 'emulsify': shear high \u2192 low" == found.text

    def test_a_machine_of_the_same_kind_or_of_another(self) -> None:
        cooling = 'speed = "36 rpm"\ntime  = "70 min"'
        swapped, alike = (
            demo("hand-cream", (CREAM, f'mixer = "anchor-vessel"\n{cooling}', f'mixer = "{other}"\n{cooling}'))
            for other in ("propeller", "anchor-vessel-300")
        )

        of = [{drift.when for drift in measure(demo("hand-cream"), new, Conditions(DAY))} for new in (swapped, alike)]
        assert ["mixer-kind" in of[0], "mixer" in of[0]] == [True, False]
        assert ["mixer-kind" in of[1], "mixer" in of[1]] == [False, True]

    def test_the_process_of_a_premix_counts(self) -> None:
        found = one("range", ("premixes/kelp-gel-4.toml", '"12 min"', '"15 min"'))

        assert "kelp-gel-4/open-gum/time" == found.about
        assert found.text.startswith("premix 'kelp-gel-4': step 'open-gum': time 15 min, tested with 12 min")

    def test_another_order(self) -> None:
        text = 'id   = "overnight"\nrest = "12 h"'
        rest = (CREAM, f"[[step]]\n{text}", f"# gone\n[[step]]\n{text.replace('overnight', 'still')}")

        assert {"still", "overnight"} == {drift.about for drift in moved(rest) if drift.when == "step"}


class TestTheBatch:
    """SUPAC-SS V: how many times the batch that was tested."""

    def test_the_batch_of_the_proof_counts_where_it_states_one(self) -> None:
        tenth = Conditions(DAY, size=read_quantity("10 kg", "mass"))

        assert Fraction(10) == one("batch", conditions=tenth).size
        assert [] == [drift for drift in moved() if drift.when == "batch"]

    def test_a_smaller_batch_is_covered(self) -> None:
        assert "batch" not in classes((CREAM, 'batch   = "100 kg"', 'batch = "50 kg"'))

    def test_a_larger_batch(self) -> None:
        assert Fraction(5, 2) == one("batch", (CREAM, 'batch   = "100 kg"', 'batch = "250 kg"')).size


class TestWhatIsPrinted:
    """Regulation (EC) No 1223/2009, Article 19(1)(g): below 1 % any order will do."""

    def test_a_list_that_was_printed_outlives_a_change_that_leaves_the_order(self) -> None:
        assert "label" not in classes((CREAM, "= 5.00\nkelp", "= 4.80\nkelp"))

    def test_names_that_change_places(self) -> None:
        found = one("label", (CREAM, "= 5.00\nkelp", "= 4.00\nkelp"), conditions=Conditions(DAY, market="EU"))

        assert "list of ingredients (EU): Butyrospermum Parkii Butter has to stand before Glycerin now" == found.text

    def test_below_one_percent_any_order_will_do(self) -> None:
        assert "label" not in classes((CREAM, "benzoate   = 0.40", "benzoate = 0.20"))

    def test_a_name_that_the_list_lacks(self) -> None:
        found = one("label", (CREAM, "corn-starch    = {", "kaolin-white = 1.00\ncorn-starch = {"),
                    conditions=Conditions(DAY, market="EU"))  # fmt: skip

        assert "list of ingredients (EU): lacks Kaolin" == found.text

    def test_an_allergen_that_has_to_be_named_now(self) -> None:
        found = one("allergens", ("ingredients/lavender-oil.toml", "[allergens]", '[allergens]\n"Eugenol" = 2.0'),
                    conditions=Conditions(DAY, market="EU"))  # fmt: skip

        assert "named allergens (EU): +Eugenol" == found.text


SHARES = (CREAM, 'add   = ["A/water"]', 'add = [{ what = "A/water", share = "80 %" }]')
REST = (CREAM, 'add   = ["A"]', 'add = ["A", { what = "A/water", share = "20 %" }]')


@pytest.mark.parametrize(("some", "rest", "far"), [("80 %", "20 %", 0), ("78 %", "22 %", 2), ("50 %", "50 %", 30)])
def test_the_share_of_a_charge_that_a_step_adds(some: str, rest: str, far: int) -> None:
    old = demo("hand-cream", SHARES, REST)
    new = demo(
        "hand-cream",
        (SHARES[0], SHARES[1], SHARES[2].replace("80 %", some)),
        (*REST[:2], REST[2].replace("20 %", rest)),
    )

    found = [drift for drift in measure(old, new, Conditions(DAY)) if drift.about.endswith("/A/water")]

    assert [Fraction(far, 100)] * (2 if far else 0) == [drift.size for drift in found]
    assert {"range"} >= {drift.when for drift in found}
    if far:
        assert f"step 'draw-water': {some} of A/water goes in, 80 % did" == found[0].text


@pytest.mark.parametrize(
    ("most", "size"),
    [
        ("at_most = 0.60", 0),
        ("at_most = 0.50", 0),
        ("at_most = 0.66", Fraction(1, 10)),
        ("at_most = 1.20", 1),
        ('note = "x"', 1),
    ],
)
def test_how_much_of_what_sets_the_ph_may_go_in(most: str, size: Fraction) -> None:
    """Less than was allowed is inside of what was tested; no limit any more is beyond each."""
    edit = (CREAM, "at_most = 0.60", most)

    assert [size] * bool(size) == [drift.size for drift in moved(edit) if drift.when == "adjuster"]


def test_an_allowance_without_limits_cannot_grow() -> None:
    open_end = (CREAM, ", at_most = 0.60", "")

    assert not list(measure(demo("hand-cream", open_end), demo("hand-cream"), Conditions(DAY)))


def test_steps_that_came_and_went_are_named_in_their_order() -> None:
    steps = "".join(f'\n[[step]]\nid = "wait-{n}"\nrest = "1 h"\n' for n in range(9))

    assert [f"wait-{n}" for n in range(9)] == [
        d.about for d in moved((CREAM, "\n[spec]", f"{steps}\n[spec]")) if d.when == "step"
    ]


def test_water_activity_by_its_estimate() -> None:
    found = one("water-activity", ("face-polish.toml", "= 14.00", "= 24.00"), recipe="face-polish")

    assert found.size > Fraction("0.01")


def test_alcohol_across_a_fifth() -> None:
    """ISO 29621 takes products of more than 20 % alcohol (by volume) as low-risk; by mass here."""
    spirit = {"ingredients/spirit.toml": 'title = "Spirit"\n\n[substances]\n"Alcohol" = 100\n'}
    sides = [
        demo(
            "face-toner", ("face-toner.toml", "[phase.A.charge]\n", f"[phase.A.charge]\nspirit = {pct}\n"), more=spirit
        )
        for pct in ("19.00", "21.00", "22.00")
    ]

    of = [{drift.when for drift in measure(sides[0], new, Conditions(DAY))} for new in sides[1:]]
    assert all("alcohol" in found for found in of)
    assert "alcohol" not in {drift.when for drift in measure(sides[1], sides[2], Conditions(DAY))}
