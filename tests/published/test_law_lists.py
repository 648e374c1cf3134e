"""Prohibited substances, allergens on both sides of their threshold, and what no list names."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.labelling import ingredient_list
from formula_vcs.law.packs_in_force import law_of, product
from formula_vcs.model.law_row import LawRow
from tests.published.helpers_law import DAY, formula, found, headed_for, material, said, text

ROWS = list(law_of(("EU", "US")).all_rows())
PROHIBITED = [row for row in ROWS if row.kind == "prohibited"]
ALLERGENS = [row for row in ROWS if row.kind == "name"]
# Glycerin, Aqua, Tocopherol, Xanthan Gum, Citric Acid, Caprylyl Glycol, Ethylhexylglycerin: no entry of Annex II or III
NEGATIVES = ("Glycerin", "Tocopherol", "Xanthan Gum", "Citric Acid", "Caprylyl Glycol", "Ethylhexylglycerin",
             "Pentylene Glycol", "Glyceryl Caprylate", "Levulinic Acid", "Sodium Levulinate", "p-Anisic Acid",
             "Lactic Acid", "Glycolic Acid", "Cannabidiol", "Kaolin")  # fmt: skip


@pytest.mark.parametrize("row", PROHIBITED, ids=lambda row: row.id)
def test_a_prohibited_substance_blocks(row: LawRow) -> None:
    """In a product that the row is about, on the first day that it holds, each of its names."""
    headed = headed_for(row)
    assert headed is not None
    kind, header = headed
    function = f'functions = ["{row.function}"]' if row.function else 'functions = ["other"]'
    for name in row.spelled:
        share = "{ pct = 100, nano = true }" if name.endswith(" (nano)") else "100"
        materials = {"it": material({name.removesuffix(" (nano)"): share}, head=function)}
        day = max(row.placed.first or DAY, DAY)
        findings = found(formula({"it": "0.0001"}, materials, kind, ("EU", "US"), header), day)

        assert any(f.rule == "prohibited" and f.subject.startswith(f"{row.id}/") for f in findings), name


@pytest.mark.parametrize("kind", ["hand cream", "shower gel", "toothpaste", "lip balm"])
@pytest.mark.parametrize("name", NEGATIVES)
def test_what_no_list_names(name: str, kind: str) -> None:
    assert [] == said(formula({"it": "5"}, {"it": material({name: 100})}, kind, ("EU", "US")))


def _names(charge: str, name: str, kind: str) -> set[str]:
    of = formula(
        {"it": charge}, {"it": material({"Caprylic/Capric Triglyceride": 100}, f'[allergens]\n"{name}" = 100')}, kind
    )
    return {line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")}


@pytest.mark.parametrize("row", ALLERGENS, ids=lambda row: row.id)
@pytest.mark.parametrize(("kind", "threshold"), [("face cream", "0.001"), ("shampoo", "0.01"), ("mouthwash", "0.01")])
def test_an_allergen_is_named_above_its_threshold(row: LawRow, kind: str, threshold: str) -> None:
    """Above 0.001 % leave-on, 0.01 % rinse-off (Annex III, Regulation (EU) 2023/1545): not at it, and not below."""
    found_kind = product(kind)
    assert found_kind is not None
    assert Fraction(threshold) == row.threshold(found_kind.contact)
    for name in row.spelled:
        printed = row.printed or name
        over = text(Fraction(threshold) + Fraction(1, 10**12))
        assert printed in _names(over, name, kind)
        assert printed not in _names(threshold, name, kind)


def test_members_of_a_group_are_added_up() -> None:
    """III/70: Citral, Geranial and Neral are one name; neither alone is above 0.001 %."""
    oil = material({"Caprylic/Capric Triglyceride": 100}, '[allergens]\n"Geranial" = 0.06\n"Neral" = 0.05')
    of = formula({"oil": "1"}, {"oil": oil}, "face cream")

    names = [line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")]

    assert "Citral" in names
    assert "Geranial" not in names


def test_an_allergen_counts_from_every_source() -> None:
    """Benzyl alcohol from a preservative and from an oil: 0.0006 + 0.0006 %."""
    materials = {
        "preservative": material({"Benzyl Alcohol": 100}),
        "oil": material(
            {"Caprylic/Capric Triglyceride": 100}, '[allergens]\n"Benzyl Benzoate" = 0.06\n"Linalool" = 0.06'
        ),
        "other": material({"Helianthus Annuus Seed Oil": 100}, '[allergens]\n"Linalool" = 0.06'),
    }
    of = formula({"oil": "1", "other": "1"}, materials, "face cream")

    names = {line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")}

    assert "Linalool" in names
    assert "Benzyl Benzoate" not in names
