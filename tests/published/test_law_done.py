"""The cases that the law rooms were built for, whole: limits, label, fluoride, claims, dates."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.diff.counterfactuals import all_findings, causes
from formula_vcs.diff.diff import diff
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.compliance import Compliance, in_force
from formula_vcs.law.labelling import ingredient_list
from formula_vcs.law.limit_use import uses
from formula_vcs.rules.horizon import horizon, later
from tests.published.helpers_law import DAY, formula, found, material, said

BENZOATE = {"a": material({"Sodium Benzoate": 100})}
BOTH = {**BENZOATE, "b": material({"Potassium Benzoate": 100})}


@pytest.mark.parametrize(
    ("charges", "kind", "expected"),
    [
        # V/1: leave-on 0.5 % as acid. 0.60 x 0.8475 = 0.5085
        ({"a": "0.60"}, "hand cream", [("limit", "block", "eu-v-1-leave")]),
        ({"a": "0.58"}, "hand cream", []),
        ({"a": "0.59"}, "hand cream", [("limit", "warn", "eu-v-1-leave")]),
        # rinse-off 2.5 %, oral 1.7 %
        ({"a": "0.60"}, "shower gel", []),
        ({"a": "2.10"}, "shower gel", []),
        ({"a": "2.10"}, "toothpaste", [("limit", "block", "eu-v-1-oral")]),
        # V/1a: potassium benzoate has 0.5 % everywhere: 0.70 x 0.7623 = 0.5336
        ({"b": "0.70"}, "shower gel", [("limit", "block", "eu-v-1a")]),
        ({"b": "0.65"}, "shower gel", []),
        # the two together: 0.40 x 0.8475 + 0.40 x 0.7623 = 0.6439
        ({"a": "0.40", "b": "0.40"}, "hand cream", [("limit", "warn", "eu-v-1-1a-leave")]),
        ({"a": "0.20", "b": "0.20"}, "hand cream", []),
    ],
)
def test_benzoates(charges: dict[str, object], kind: str, expected: list[tuple[str, str, str]]) -> None:
    assert expected == said(formula(charges, BOTH, kind))


def test_a_pass_has_its_margin() -> None:
    of = formula({"a": '{ pct = 0.58, tolerance = "1 %" }'}, BENZOATE, "hand cream")
    law = Compliance(of, Breakdown(of))

    (use,) = uses(law, in_force(law, DAY))

    assert ("eu-v-1-leave", "inside") == (use.row.id, use.state)
    assert 0.0085 == pytest.approx(float(use.left), abs=1e-4)
    assert 0.4964 == pytest.approx(float(use.amount.worst), abs=1e-4)  # 0.5858 x 0.8475


LAVENDER = material(
    {"Lavandula Angustifolia Oil": 100},
    '[allergens]\n"Linalyl Acetate" = 34.0\n"Linalool" = 31.0\n"Geraniol" = 0.3\n"Limonene" = 0.4\n',
    'functions = ["fragrance"]',
)


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        # 0.02 % oil: linalyl acetate 0.0068, linalool 0.0062, limonene 0.00008, geraniol 0.00006 %; the oil 0.02 %
        ("face cream", ["Aqua", "Lavandula Oil/Extract", "Linalyl Acetate", "Linalool"]),
        ("shampoo", ["Aqua", "Lavandula Oil/Extract"]),
    ],
)
def test_a_lavender_oil(kind: str, expected: list[str]) -> None:
    of = formula({"lavender": "0.02"}, {"lavender": LAVENDER}, kind)

    assert expected == [line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")]


def test_parfum_where_the_recipe_asks_for_it() -> None:
    of = formula({"lavender": '{ pct = 0.02, for = "parfum" }'}, {"lavender": LAVENDER}, "face cream")

    assert ["Aqua", "Parfum", "Lavandula Oil/Extract", "Linalyl Acetate", "Linalool"] == [
        line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")
    ]
    assert ["Water", "Fragrance"] == [line.inci for line in ingredient_list(Breakdown(of), DAY, "US")]


def test_what_a_list_leaves_out_and_adds() -> None:
    """Impurities and processing aids are out, the solvent and the premix's substances in, nano forms marked."""
    zinc = material({"Zinc Oxide": "{ pct = 99.9, nano = true }", "Lead": '{ pct = 0.1, role = "impurity" }'})
    blend = material({"Citric Acid": 50, "Aqua": 50})
    premix = 'title = "x"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nblend = 50\n'
    of = formula(
        {"zinc": "2", "mix": "4"},
        {"zinc": zinc, "blend": blend, "mix": 'title = "x"\nrecipe = "mix"\n'},
        "body cream",
        premixes={"mix": premix},
    )

    assert ["Aqua", "Zinc Oxide (nano)", "Citric Acid"] == [
        line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")
    ]


def test_one_percent_differs() -> None:
    """EU: below 1 % the order is free; US: not above 1 % (from memory)."""
    of = formula({"a": "1"}, {"a": material({"Xanthan Gum": 100})}, "body cream")

    assert ["ordered", "ordered"] == [line.part for line in ingredient_list(Breakdown(of), DAY, "EU")]
    assert ["ordered", "free"] == [line.part for line in ingredient_list(Breakdown(of), DAY, "US")]


def test_a_fluoride_gel_passes_the_eu_and_fails_the_us_range() -> None:
    """0.32 % sodium fluoride: 1448 ppm F; the EU ceiling is 1500, the US range 0.188 to 0.254 %."""
    materials = {"f": material({"Sodium Fluoride": 100})}
    eu = formula({"f": "0.32"}, materials, "toothpaste", ("EU",), 'pack = "75 g"')
    us = formula({"f": "0.32"}, materials, "toothpaste", ("EU", "US"), 'pack = "75 g"')

    assert [] == said(eu)
    assert [("otc-drug", "warn", "us-355-naf"), ("limit", "block", "us-355-naf")] == said(us)
    (finding,) = [f for f in found(us) if f.severity == "block"]
    assert "21 CFR 355.10(a)(1) / M021" == finding.source
    assert [("limit", "block", "eu-iii-f-total")] == said(formula({"f": "0.34"}, materials, "toothpaste", ("EU",)))


def _cosmos(oil: str) -> str:
    organic = 100 if oil == "organic" else 0
    return material({"Helianthus Annuus Seed Oil": 100}, f"[cosmos]\nppai = 100\nppai_organic = {organic}\n")


def test_one_conventional_oil_flips_cosmos_and_is_named() -> None:
    materials = {"sunflower": _cosmos("plain"), "sunflower-organic": _cosmos("organic")}
    claim = 'claims = ["cosmos-organic-4"]\n'
    old = formula({"sunflower-organic": "30"}, materials, "body cream", (), claim)
    new = formula({"sunflower": "30"}, materials, "body cream", (), claim)

    changes = diff(old, new)
    (broken,) = [f for f in all_findings(new, DAY) if f.rule == "claim-fails"]

    assert not [f for f in all_findings(old, DAY) if f.severity == "block"]
    assert ("grade-swap",) == tuple(c.kind for c in changes if c.id in causes(old, changes, broken, DAY))


def test_a_zinc_mouthwash_is_on_the_horizon() -> None:
    """III/24: 1 % Zn for all today; mouthwash 0.1 % for placing from 1 January 2027, on sale until 30 June 2028."""
    of = formula({"zinc": "0.5"}, {"zinc": material({"Zinc Citrate Dihydrate": 100})}, "mouthwash")

    assert [] == said(of)
    (turn,) = horizon(of, DAY, later(DAY, 24))
    assert datetime.date(2027, 1, 1) == turn.day
    assert "eu-iii-24c" == turn.finding.subject.split("/")[0]
    assert "block" == turn.finding.severity
    assert datetime.date(2028, 6, 30) == turn.sold
    assert [("limit", "block", "eu-iii-24c")] == said(of, datetime.date(2027, 1, 1))
    assert [] == horizon(of, DAY, datetime.date(2026, 12, 31))
    assert [("limit", "block", "eu-iii-24-now")] == said(
        formula({"zinc": "3.2"}, {"zinc": material({"Zinc Citrate Dihydrate": 100})}, "mouthwash")
    )


def test_a_horizon_ends_on_the_same_day_or_the_last_of_the_month() -> None:
    assert datetime.date(2028, 2, 29) == later(datetime.date(2026, 8, 31), 18)
    assert datetime.date(2028, 11, 24) == later(DAY, 24)


@pytest.mark.parametrize(("day", "named"), [(datetime.date(2026, 7, 31), False), (datetime.date(2026, 8, 1), True)])
def test_the_longer_list_of_allergens_has_its_day(day: datetime.date, named: bool) -> None:
    """Regulation (EU) 2023/1545: old labels may be placed on the market until 31 July 2026."""
    of = formula({"lavender": "0.02"}, {"lavender": LAVENDER}, "face cream")
    names = {line.inci for line in ingredient_list(Breakdown(of), day, "EU")}

    assert named == ("Linalyl Acetate" in names)
    assert "Linalool" in names


def test_an_accepted_limit_becomes_a_note() -> None:
    accept = '[[accept]]\nrule = "limit"\nabout = "eu-v-1-leave"\nwhy = "export batch, not for the EU"\n'
    of = formula({"a": "0.60"}, BENZOATE, "hand cream", more="")
    assert [("limit", "block", "eu-v-1-leave")] == said(of)
    of = formula({"a": "0.60\n" + accept}, BENZOATE, "hand cream")
    assert [] == said(of)


def test_premixes_that_double_at_every_level_are_opened_once_each() -> None:
    """Forty levels of two premixes each: a list that opened every path would never end."""
    premixes, materials = {}, {"oil": material({"Helianthus Annuus Seed Oil": 100})}
    for level in range(40):
        below = ("oil",) if level == 39 else (f"a{level + 1}", f"b{level + 1}")
        charges = "".join(f"{name} = {100 // len(below)}\n" for name in below)
        for side in "ab":
            premixes[f"{side}{level}"] = f'title = "x"\nproduct = "premix"\n[phase.A.charge]\n{charges}'
            materials[f"{side}{level}"] = f'title = "x"\nrecipe = "{side}{level}"\n'
    of = formula({"a0": "10"}, materials, "body oil", premixes=premixes)

    assert ["Aqua", "Helianthus Annuus Seed Oil"] == [line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")]
    assert [] == said(of)
