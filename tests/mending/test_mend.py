"""The nearest number that would mend a finding, against trying every number that there is."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from decimal import Decimal

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.model.finding import Finding, Mend
from formula_vcs.workspace.snapshot import Files, Snapshot

DAY = datetime.date(2026, 11, 30)
WORKSPACE = 'title = "Shed"\ncurrency = "EUR"\nmarkets = ["EU"]\nbatch = "100 kg"\n'
STEPS = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'


def material(inci: dict[str, str], origin: tuple[str, str], extra: str = "") -> str:
    """Write an ingredient file: substances in %, indices natural and organic (both kinds alike)."""
    substances = "".join(f'"{name}" = {pct}\n' for name, pct in inci.items())
    natural, organic = origin
    return (
        f'title = "Material"\ndensity = "1 g/mL"\n{extra}\n[substances]\n{substances}\n[origin]\nnatural = {natural}\n'
        f"natural_origin = {natural}\norganic = {organic}\norganic_origin = {organic}\n"
        f"formulation_water = {str('Aqua' in inci and len(inci) == 1).lower()}\n"
    )


SHELF = {
    "workspace.toml": WORKSPACE,
    "ingredients/water.toml": material({"Aqua": "100"}, ("1", "0")),
    "ingredients/glycerin.toml": material({"Glycerin": "100"}, ("1", "0")),
    "ingredients/propanediol.toml": material({"Propylene Glycol": "100"}, ("0", "0")),
    "ingredients/shea-organic.toml": material({"Butyrospermum Parkii Butter": "100"}, ("1", "1")),
    # the preservative is 88 % of the material
    "ingredients/benzyl-dha.toml": material(
        {"Benzyl Alcohol": "88", "Dehydroacetic Acid": "8", "Aqua": "4"}, ("0", "0")
    ),
    "ingredients/benzyl.toml": material({"Benzyl Alcohol": "100"}, ("0", "0")),
    "ingredients/oil.toml": material(
        {"Helianthus Annuus Seed Oil": "100"}, ("1", "0"), '[handling]\ntemp_at_most = "60 degC"\n'
    ),
}


def recipe(charges: str, head: str = "", steps: str = STEPS) -> str:
    """Write a recipe of one phase."""
    return f'title = "Cream"\nproduct = "hand cream"\n{head}\n[phase.A.charge]\n{charges}{steps}'


def findings(text: str, rule: str) -> list[Finding]:
    """Judge a recipe and give what one rule says."""
    with Snapshot(Files({**SHELF, "cream.toml": text})) as snapshot:
        return [one for one in judge_workspace(snapshot, DAY) if one.rule == rule and one.severity != "note"]


def mend(text: str, rule: str) -> Mend | None:
    """Give what mends the only finding of a rule."""
    (found,) = findings(text, rule)
    return found.mend


def nearest(write: Callable[[str], str], rule: str, now: str, numbers: Iterator[int]) -> Decimal | None:
    """Try every number of hundredths by judging the file with it, and give the nearest to what stands there now."""
    good = [
        Decimal(number) / 100
        for number in numbers
        if not findings(write(f"{Decimal(number) / 100:.2f}"), rule) and Decimal(number) / 100 != Decimal(now)
    ]
    return min(good, key=lambda number: abs(number - Decimal(now)), default=None)


def test_a_limit_is_kept_by_the_nearest_amount_and_the_next_one_breaks_it() -> None:
    """Annex V/34 of Regulation (EC) No 1223/2009 allows 1.0 % of benzyl alcohol: 1.00 / 0.88 = 1.1363..."""

    def write(pct: str) -> str:
        return recipe(f'water = "to 100"\nglycerin = 5.00\nbenzyl-dha = {pct}\n')

    found = mend(write("1.20"), "limit")
    assert found is not None
    assert found.value == "1.13"
    assert found.path == ("phase", "A", "charge", "benzyl-dha")
    assert found.words.startswith("at most 1.13 % of benzyl-dha (A) fits, 0.07 % less than now; water takes the rest")
    assert nearest(write, "limit", "1.20", iter(range(90, 130))) == Decimal("1.13")


def test_what_the_mended_amount_breaks_by_a_margin_is_said() -> None:
    found = mend(recipe('water = "to 100"\nbenzyl-dha = { pct = 1.20, tolerance = "2 %" }\n'), "limit")
    assert found is not None
    assert found.words.endswith("; then limit-margin warns")
    # 1.13 * 1.02 * 0.88 = 1.0143 > 1.0: the worst weighing
    margin = mend(recipe('water = "to 100"\nbenzyl-dha = { pct = 1.13, tolerance = "2 %" }\n'), "limit-margin")
    assert margin is not None
    assert margin.value == "1.11"  # 1.11 * 1.02 * 0.88 = 0.9963, 1.12 * 1.02 * 0.88 = 1.0053


@pytest.mark.parametrize(
    ("others", "now", "expected"),
    [
        # the other charge that holds it stays: (1.00 - 0.50) / 0.88 = 0.568
        ("benzyl = 0.50\n", "0.90", "0.56"),
        # 0.01 % too much, and a number that is on no grid
        ("", "1.1364", "1.13"),
        ("", "1.14", "1.13"),
    ],
)
def test_amounts_beside_and_between_the_grid(others: str, now: str, expected: str) -> None:
    found = mend(recipe(f'water = "to 100"\n{others}benzyl-dha = {now}\n'), "limit")
    assert found is not None
    assert found.value == expected


def test_exactly_on_the_limit_nothing_is_to_be_mended() -> None:
    assert findings(recipe('water = "to 100"\nbenzyl = 1.00\n'), "limit") == []


def test_where_another_charge_alone_is_over_no_amount_of_one_mends_it() -> None:
    (found,) = findings(recipe('water = "to 100"\nbenzyl = 1.10\nbenzyl-dha = 1.20\n'), "limit")
    assert found.mend is None


def test_without_a_balance_the_largest_other_charge_takes_the_rest() -> None:
    found = mend(recipe("water = 93.80\nglycerin = 5.00\nbenzyl-dha = 1.20\n"), "limit")
    assert found is not None
    assert found.value == "1.13"
    assert "; water takes the rest" in found.words


def test_a_claim_is_reached_by_the_smallest_movement_of_one_charge() -> None:
    """Organic content: shea 1, all else 0; at 55.8 % it takes 4.2 % more to reach 60 %."""

    def write(pct: str) -> str:
        return recipe(
            f'water = "to 100"\nglycerin = 5.00\nshea-organic = {pct}\n', 'claims = ["organic at least 60 %"]'
        )

    found = mend(write("55.80"), "claim-fails")
    assert found is not None
    assert found.value == "60.00"
    assert found.words == "4.20 % more shea-organic (A) reaches 'organic at least 60 %': 60.00 %; water gives way"
    assert nearest(write, "claim-fails", "55.80", iter(range(5950, 6050))) == Decimal("60.00")


def test_a_claim_that_a_charge_spoils_names_how_much_of_it_fits() -> None:
    """Natural origin: propylene glycol 0, all else 1; 98 % leaves 2 % of it."""

    def write(pct: str) -> str:
        claim = 'claims = ["natural-origin at least 98 %"]'
        return recipe(f'water = "to 100"\nglycerin = 5.00\npropanediol = {pct}\n', claim)

    found = mend(write("3.50"), "claim-fails")
    assert found is not None
    assert found.value == "2.00"
    assert found.words.startswith("at most 2.00 % of propanediol (A) keeps the claim, 1.50 % less than now")
    assert nearest(write, "claim-fails", "3.50", iter(range(150, 250))) == Decimal("2.00")


def test_a_claim_without_water_is_a_ratio_and_still_exact() -> None:
    """Organic content without water: shea / (shea + glycerin); 5 % of glycerin wants 45 of shea for 90 %."""
    claim = 'claims = ["organic at least 90 % without water"]'
    text = recipe('water = "to 100"\nglycerin = 5.00\nshea-organic = 40.00\n', claim)
    found = mend(text, "claim-fails")
    assert found is not None
    # less glycerin moves less: 40 / 0.9 - 40 = 4.444...
    assert found.path[-1] == "glycerin"
    assert found.value == "4.44"


def test_a_claim_is_never_mended_into_one_that_needs_information() -> None:
    shelf = material({"Parfum": "100"}, ("1", "0")).replace("organic = 0\n", "")
    text = recipe('water = "to 100"\nmystery = 1.00\nglycerin = 9\n', 'claims = ["organic at least 60 %"]')
    with Snapshot(Files({**SHELF, "ingredients/mystery.toml": shelf, "cream.toml": text})) as snapshot:
        for found in judge_workspace(snapshot, DAY):
            assert found.mend is None or found.rule != "claim-fails"


def test_a_floor_under_the_balance_names_the_charge_that_moves_least_of_itself() -> None:
    text = recipe('water = { pct = "to 100", at_least = 60.00 }\nglycerin = 30.00\nshea-organic = 12.50\n')
    found = mend(text, "bounds")
    assert found is not None
    assert found.path[-1] == "glycerin"
    assert found.value == "27.50"


def test_a_balance_that_vanishes_gets_something_left() -> None:
    found = mend(recipe('water = "to 100"\nglycerin = 60.00\nshea-organic = 40.00\n'), "balance-left")
    assert found is not None
    assert (found.path[-1], found.value) == ("glycerin", "59.99")


@pytest.mark.parametrize(("water", "words"), [("95.05", "exactly 95.00 %"), ("94.90", "exactly 95.00 %")])
def test_a_total_is_met_by_one_number_only(water: str, words: str) -> None:
    found = mend(recipe(f"water = {water}\nglycerin = 5.00\n"), "total")
    assert found is not None
    assert found.words.startswith(words)


def test_the_heat_of_a_step_and_the_ph_of_the_spec_are_numbers_too() -> None:
    steps = STEPS + 'temp = "50 to 72 degC"\n'
    found = mend(recipe('water = "to 100"\noil = 5.00\n', steps=steps), "temp-at-most")
    assert found is not None
    assert found.words == "at most 60 degC as temp of step 'mix' fits, 72 degC now"
    assert (found.end, found.value, found.unit) == ("high", "60", "degC")


def test_amounts_by_parts_take_nothing_from_others() -> None:
    """In 100.5 parts 1.14 of the material are 0.998 % of benzyl alcohol, 1.15 are 1.007 %."""
    text = recipe("water = 94.36\nglycerin = 5.00\nbenzyl-dha = 1.20\n", 'amounts = "parts"')
    found = mend(text, "limit")
    assert found is not None
    assert found.unit == "parts"
    rest = Decimal("99.36")
    value = Decimal(found.value)
    assert value * 88 / (rest + value) <= 1 < (value + Decimal("0.01")) * 88 / (rest + value + Decimal("0.01"))
    assert "takes the rest" not in found.words


def test_nothing_is_guessed_where_an_amount_is_open_or_a_mass() -> None:
    for charges in ('water = "90 g"\nbenzyl-dha = "10 g"\n',):
        for found in findings(recipe(charges, 'amounts = "mass"'), "limit"):
            assert found.mend is None


def test_accepted_findings_and_notes_get_none() -> None:
    accept = '\n[[accept]]\nrule = "limit"\nabout = "eu-v-34"\nwhy = "under study"\n'
    text = recipe('water = "to 100"\nbenzyl-dha = 1.20\n') + accept
    with Snapshot(Files({**SHELF, "cream.toml": text})) as snapshot:
        found = [one for one in judge_workspace(snapshot, DAY) if one.rule == "limit"]
    assert [one.mend for one in found] == [None]
    assert [one.severity for one in found] == ["note"]


def test_huge_and_broken_numbers_end_in_findings() -> None:
    for number in ("1e300", "99999999999999999999.99", "-3", "0", '"q.s."', "0.0000000000000000001"):
        with Snapshot(Files({**SHELF, "cream.toml": recipe(f'water = "to 100"\nbenzyl-dha = {number}\n')})) as snapshot:
            list(judge_workspace(snapshot, DAY))


@pytest.mark.parametrize(("many", "expected"), [(300, True), (301, False)])
def test_no_number_is_sought_in_a_recipe_of_more_than_300_charges(many: int, expected: bool) -> None:
    charges = "".join(f"unknown-{number} = 0.01\n" for number in range(many - 2))
    text = recipe(f"water = 50\nglycerin = 40\n{charges}")
    (total,) = findings(text, "total")

    assert expected == (total.mend is not None)


def test_the_end_of_a_range_is_turned_towards_the_other_one_only() -> None:
    """Too warm: the upper end comes down, to the lower one at most; a range that starts too warm is not mended."""
    shelf = {**SHELF, "cream.toml": recipe('water = "to 100"\noil = 5.00\n', steps=STEPS + 'temp = "62 to 72 degC"\n')}
    with Snapshot(Files(shelf)) as snapshot:
        (found,) = [one for one in judge_workspace(snapshot, DAY) if one.rule == "temp-at-most"]
    assert found.mend is None


def test_the_ph_of_the_spec_is_mended_inside_the_scale() -> None:
    """Dehydroacetic acid, 0.1 % in water at most: free acid is less at a higher pH, so the low end goes up."""
    steps = STEPS + '\n[[step]]\nid = "pH"\nmeasure = "pH"\naccept = "6.2 to 6.5"\n\n[spec]\npH = "4.2 to 6.5"\n'
    text = recipe('water = "to 100"\nglycerin = 20.00\nbenzyl-dha = 1.60\n', steps=steps)
    found = mend(text, "free-acid")
    assert found is not None
    assert found.end == "low"
    assert Decimal("4.2") < Decimal(found.value) <= Decimal("6.5")
    assert findings(text.replace("4.2 to 6.5", f"{found.value} to 6.5"), "free-acid") == []
    below = Decimal(found.value) - Decimal("0.01")
    assert findings(text.replace("4.2 to 6.5", f"{below} to 6.5"), "free-acid")
