"""Order of an ingredient list: Regulation (EC) No 1223/2009, Article 19(1)(g), and 21 CFR 701.3.

EU: falling order of weight as added; less than 1 % in any order after the others; colorants in any order after the
others (restated at lexoraeu.com/eu-cosmetic-ingredient-labelling, text seen; the article itself from memory).
US: falling order of predominance, 701.3(a) (seen at cosmeticsinfo.org/glossary/letter_2); not above 1 % in any order
and color additives last, 701.3(f) (from memory; restated at labelclear.com/cosmetic-ingredient-label-inci-order, text
seen).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.ingredient_list import LabelLine, label
from formula_vcs.model.formula import Formula
from tests.published.helpers_workspace import FORMULARY, formula, material

F = Fraction


def names(lines: tuple[LabelLine, ...], part: str) -> list[str]:
    return [line.inci for line in lines if line.part == part]


@pytest.fixture(scope="module")
def lip_balm() -> Formula:
    text = (FORMULARY / "lip-balm-103-g.toml").read_text(encoding="utf-8")
    return formula(
        text,
        {
            "beeswax": material("Cera Alba"),
            "cocoa-butter": material("Theobroma Cacao Seed Butter"),
            "shea-butter": material("Butyrospermum Parkii Butter"),
            "castor-oil": material("Ricinus Communis Seed Oil"),
            "flavour": material("Aroma"),
            "red-iron-oxide": material("CI 77491", 'functions = ["colorant"]'),
            "vitamin-e": material("Tocopherol"),
            "peppermint-oil": material("Mentha Piperita Oil"),
        },
    )


@pytest.mark.parametrize("market", ["EU", "US"])
def test_lip_balm_of_a_soap_school(lip_balm: Formula, market: str) -> None:
    # soaplabmalaysia.com/2017/07 (text seen) lists beeswax, cocoa butter, castor oil, shea butter, red iron oxide,
    # flavour, vitamin E, peppermint oil.  On the sum of 103 g: 29.13 = 29.13 > 19.42 > 9.71, three times 0.97 (not 1,
    # as 1 g might suggest) free; the colorant may stand last.  Above 1 % only the two of 29.13 % may change places.
    lines = label(Breakdown(lip_balm), market)
    assert names(lines, "ordered") == [
        "Cera Alba",
        "Theobroma Cacao Seed Butter",
        "Ricinus Communis Seed Oil",
        "Butyrospermum Parkii Butter",
    ]
    assert set(names(lines, "free")) == {"Aroma", "Tocopherol", "Mentha Piperita Oil"}
    assert names(lines, "colorant") == ["CI 77491"]
    assert lines[-1].inci == "CI 77491"
    assert {line.inci: line.pct for line in lines}["Aroma"] == F(100, 103)
    assert sum(line.pct for line in lines) == 100


@pytest.fixture(scope="module")
def lotion() -> Formula:
    # Made for the edge of 1 %, by hand: 90.30 + 4 + 3 + 1 + 0.90 + 0.50 + 0.30 = 100
    text = """
title = "Lotion"
[phase.A.charge]
titanium-dioxide = 0.50
tocopherol       = 0.30
phenoxyethanol   = 1.00
perfume          = 0.90
cetyl-alcohol    = 3.00
glycerin         = 4.00
water            = 90.30
"""
    incis = {
        "titanium-dioxide": "CI 77891",
        "tocopherol": "Tocopherol",
        "phenoxyethanol": "Phenoxyethanol",
        "perfume": "Parfum",
        "cetyl-alcohol": "Cetyl Alcohol",
        "glycerin": "Glycerin",
        "water": "Aqua",
    }
    return formula(text, {name: material(inci) for name, inci in incis.items()})


def test_exactly_1_percent_is_ordered_in_the_eu(lotion: Formula) -> None:
    lines = label(Breakdown(lotion), "EU")
    assert names(lines, "ordered") == ["Aqua", "Glycerin", "Cetyl Alcohol", "Phenoxyethanol"]
    assert set(names(lines, "free")) == {"Parfum", "Tocopherol"}
    assert names(lines, "colorant") == ["CI 77891"]


def test_exactly_1_percent_is_free_in_the_us(lotion: Formula) -> None:
    lines = label(Breakdown(lotion), "US")
    assert names(lines, "ordered") == ["Aqua", "Glycerin", "Cetyl Alcohol"]
    assert set(names(lines, "free")) == {"Phenoxyethanol", "Parfum", "Tocopherol"}
    assert names(lines, "colorant") == ["CI 77891"]


@pytest.mark.parametrize("market", ["EU", "US"])
def test_one_part_of_101_is_below_1_percent(market: str) -> None:
    # Aseptic wax, British Pharmaceutical Codex 1911: 1.00 part of 101 is 0.9901 %, free in both; as 1.00 of 100 it
    # would be ordered in the EU.
    text = (FORMULARY / "aseptic-wax-bpc1911.toml").read_text(encoding="utf-8")
    wax = formula(
        text,
        {
            "white-beeswax": material("Cera Alba"),
            "almond-oil": material("Prunus Amygdalus Dulcis Oil"),
            "salicylic-acid": material("Salicylic Acid"),
        },
    )
    lines = label(Breakdown(wax), market)
    assert names(lines, "ordered") == ["Cera Alba", "Prunus Amygdalus Dulcis Oil"]
    assert names(lines, "free") == ["Salicylic Acid"]


def test_one_name_is_listed_once_over_all_materials() -> None:
    # 40 of a 45 % betaine solution (50 water, 5 salt), 0.8 of salt, 10 of glycerin of 86 %, water to 100, by hand:
    #   water 49.2 + 40 x 0.50 + 10 x 0.14 = 70.6; betaine 18; glycerin 8.6; salt 0.8 + 2 = 2.8, which alone was 0.8
    text = 'title = "x"\n[phase.A.charge]\nbetaine = 40\nsalt = 0.8\nglycerin = 10\nwater = "to 100"\n'
    wash = formula(
        text,
        {
            "betaine": material({"Cocamidopropyl Betaine": "45", "AQUA": "50", "Sodium  chloride": "5"}),
            "salt": material("Sodium Chloride"),
            "glycerin": material({"Glycerin": "86", "Water": "14"}),
            "water": material("Aqua"),
        },
    )
    lines = label(Breakdown(wash))
    assert [(line.inci.casefold(), line.pct, line.part) for line in lines] == [
        ("aqua", F("70.6"), "ordered"),
        ("cocamidopropyl betaine", 18, "ordered"),
        ("glycerin", F("8.6"), "ordered"),
        ("sodium chloride", F("2.8"), "ordered"),
    ]


def test_colorants_stand_last_whatever_their_weight() -> None:
    # A powder of half iron oxide: it may still stand last.
    text = 'title = "x"\n[phase.A.charge]\nlake = 2\niron = 50\ntalc = "to 100"\n'
    powder = formula(
        text,
        {
            "iron": material("CI 77491"),
            "lake": material("CI 45410:2"),
            "talc": material("Talc"),
        },
    )
    assert [line.inci for line in label(Breakdown(powder))] == ["Talc", "CI 77491", "CI 45410:2"]
