"""Claims by their standards, and the published and worked values for extracts, COSMOS and NOP shares."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.extract import cosmos_shares, index, made
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.figures.standards import of_material, of_product
from formula_vcs.law.claims.table import judge_claim
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from tests.published.helpers_law import DAY, formula, material


def ingredient(more: str) -> Ingredient:
    of = formula({"x": "10"}, {"x": material({"X": 100}, more)}, "body cream", ())
    return of.ingredients["x"]


def making(more: str) -> Ingredient:
    return ingredient(f"[made]\n{more}")


def verdict(claim: str, of: Formula) -> str:
    return judge_claim(Compliance(of, Breakdown(of)), claim, DAY).verdict


def value(of: Formula, name: str) -> Fraction | None:
    return FIGURES[name](Breakdown(of), Terms(DAY)).value


def test_iso_16128_annex_b() -> None:
    """ISO 16128-2:2017, Annex B, example 1: 34.4 kg organic dry flowers, 601 kg water: H2OR 120, Io 0.24."""
    extract = made(
        making('part = "flower"\ndry_plant = "34.4 kg"\nwater = "601 kg"\nextract = "500 kg"\norganic = true')
    )

    assert extract is not None
    assert not isinstance(extract, str)
    assert Fraction("120.4") == extract.rebuilt
    assert Fraction("480.6") == extract.water - extract.rebuilt
    organic = index(extract, "organic")
    assert isinstance(organic, Fraction)
    assert 0.2436 == pytest.approx(float(organic), abs=5e-5)
    assert index(extract, "natural") == index(extract, "natural_origin") == 1


@pytest.mark.parametrize(
    ("part", "dry", "expected"),
    [
        # entries of the COSMOS registry of raw materials, read as so much dry plant per 100 of extract
        ("leaf", "5 kg", "22.50"),  # spinach leaf, peppermint leaf
        ("leaf", "22.3 kg", "100"),  # olive leaf: 22.3 x 4.5 = 100.35, capped
        ("leaf", "2.5 kg", "11.25"),  # rosemary leaf
        ("root", "2.5 kg", "6.25"),  # ruscus root
        ("bark", "2.5 kg", "6.25"),  # willow bark
        ("watery fruit", "5 kg", "40.00"),  # passion fruit
        ("leaf", "3 kg", "13.50"),  # sage leaf hydrolate
    ],
)
def test_cosmos_water_extracts(part: str, dry: str, expected: str) -> None:
    extract = made(
        making(f'part = "{part}"\ndry_plant = "{dry}"\nwater = "120 kg"\nextract = "100 kg"\norganic = true')
    )
    assert extract is not None
    assert not isinstance(extract, str)

    shares = cosmos_shares(extract)

    assert not isinstance(shares, str)
    assert Fraction(expected) == shares.ppai_organic


def test_cosmos_cedar_bark_in_glycerin_and_water() -> None:
    """Registry entry: 5 % dry bark, 60 % organic glycerin (0.967 organic): 12.50 + 58.02 = 70.52."""
    more = (
        'part = "bark"\ndry_plant = "5 kg"\nwater = "40 kg"\nextract = "100 kg"\norganic = true\n'
        '[made.solvents]\nglycerin = { mass = "60 kg", kind = "derived", organic = 0.967 }\n'
    )
    shares = of_material(making(more))

    assert Fraction("12.50") == shares.ppai_organic.value
    assert Fraction("58.02") == shares.cpai_organic.value
    assert Fraction("70.52") == shares.organic.value


def test_a_solvent_that_is_not_natural_makes_the_extract_so() -> None:
    more = (
        'part = "leaf"\ndry_plant = "5 kg"\nwater = "40 kg"\nextract = "100 kg"\norganic = true\n'
        '[made.solvents]\nbutylene = { mass = "60 kg", kind = "non-natural", organic = 0 }\n'
    )
    extract = made(making(more))
    assert extract is not None
    assert not isinstance(extract, str)

    assert [0, 0, 0, 0] == [index(extract, name) for name in ("natural", "natural_origin", "organic", "organic_origin")]


def test_a_cream_base_of_the_registry() -> None:
    """PPAI 89.45, organic 89.25, CPAI 9.54, NNI 0.95, the rest water: organic share of PPAI 99.78 %."""
    base = "[cosmos]\nppai = 89.45\nppai_organic = 89.25\ncpai = 9.54\ncpai_organic = 1.45\nnni = 0.95\nwater = 0.06\n"
    share = of_material(ingredient(base)).ppai_organic_share

    assert share is not None
    assert share.value is not None
    assert 99.78 == pytest.approx(float(share.value), abs=0.005)


def test_petrochemical_moieties_of_a_betaine() -> None:
    """Registry: CPAI 24.08 + PeMo 20.92 = 45.00; 9.56 % of it in a product is 2.000 %, the limit."""
    betaine = material(
        {"Cocamidopropyl Betaine": 45, "Aqua": 55},
        "[cosmos]\ncpai = 24.08\ncpai_organic = 0\npemo = 20.92\nwater = 55\n",
    )
    at = formula({"b": "9.56"}, {"b": betaine}, "shower gel", ())
    over = formula({"b": "9.57"}, {"b": betaine}, "shower gel", ())

    assert 2.000 == pytest.approx(float(value(at, "cosmos_pemo") or 0), abs=5e-4)
    assert "holds" == verdict("cosmos-natural-4", at)
    assert "fails" == verdict("cosmos-natural-4", over)


OIL = "[cosmos]\nppai = 100\nppai_organic = {}\n[nop]\nleft_out = 0\norganic = {}\n"


@pytest.mark.parametrize(
    ("share", "kind", "form", "expected"),
    [
        ("20", "body cream", "emulsion", "holds"),
        ("19.99", "body cream", "emulsion", "fails"),
        ("10", "shower gel", "surfactant", "holds"),  # rinsed off: 10 %
        ("9.99", "shower gel", "surfactant", "fails"),
        ("10", "face toner", "aqueous", "holds"),  # aqueous, not emulsified
        ("10", "face toner", "emulsion", "fails"),
    ],
)
def test_cosmos_organic_of_the_product(share: str, kind: str, form: str, expected: str) -> None:
    oil = material({"Helianthus Annuus Seed Oil": 100}, OIL.format(100, 100))

    assert expected == verdict(
        "cosmos-organic-4", formula({"oil": share}, {"oil": oil}, kind, (), f'form = "{form}"\n')
    )


def test_cosmos_the_mineral_switch() -> None:
    """80 % minerals and more: 10 % organic are enough."""
    oil = material({"Helianthus Annuus Seed Oil": 100}, OIL.format(100, 100))
    clay = material({"Kaolin": 100}, "[cosmos]\nmineral = 100\n")
    both = {"oil": oil, "clay": clay}

    assert "holds" == verdict("cosmos-organic-4", formula({"oil": "12", "clay": "80"}, both, "body powder", ()))
    assert "fails" == verdict("cosmos-organic-4", formula({"oil": "12", "clay": "79"}, both, "body powder", ()))


def test_cosmos_gates_and_gaps() -> None:
    def of(name: str, cosmos: str, charge: str = "1") -> Formula:
        return formula({"x": charge}, {"x": material({name: 100}, cosmos)}, "body cream", ())

    assert "fails" == verdict(
        "cosmos-natural-4", of("Sodium Laureth Sulfate", "[cosmos]\ncpai = 100\ncpai_organic = 0\n")
    )
    assert "fails" == verdict("cosmos-natural-4", of("Phenoxyethanol", "[cosmos]\nnni = 100\n"))
    assert "holds" == verdict("cosmos-natural-4", of("Potassium Sorbate", "[cosmos]\nnni = 100\n"))
    assert "needs information" == verdict("cosmos-natural-4", of("Strange Stone", "[cosmos]\nmineral = 100\n"))
    assert "needs information" == verdict("cosmos-natural-4", of("Anything", "", "10"))
    assert "needs information" == verdict("cosmos-organic-4", of("Anything", "[cosmos]\nppai = 100\n", "30"))


def test_aloe_rebuilt_from_powder() -> None:
    """200 : 1 at 0.5 % rebuilds a whole product; water beyond (200 - 1) x powder is plain water."""
    aloe = material({"Aloe Barbadensis Leaf Juice Powder": 100}, f"[concentrate]\nratio = 200\n{OIL.format(100, 100)}")
    powder = {"aloe": aloe, "juice": material({"Aqua": 100}, "[cosmos]\nwater = 100\n")}
    whole = formula({"aloe": "0.5", "juice": '{ pct = 99.5, rebuilds = "aloe" }'}, powder, "gel", ())
    part = formula({"aloe": "0.1", "juice": '{ pct = 30, rebuilds = "aloe" }'}, powder, "gel", ())

    assert 100 == of_product(Breakdown(whole)).classes["ppai"].value
    assert Fraction(20) == of_product(Breakdown(part)).ppai_organic.value  # 0.1 + 19.9, not 30.1
    assert Fraction("0.1") == of_product(Breakdown(part), rebuild=False).ppai_organic.value


def test_nop_rounds_down() -> None:
    """Refined oil, 99 % organic, with 1.5 % tocopherol: 98.5 x 0.99 = 97.515 -> 97 (205.302(b)); 94.96 -> 94."""
    oil = material({"Helianthus Annuus Seed Oil": 100}, OIL.format(99, 99))
    tocopherol = material({"Tocopherol": 100}, OIL.format(0, 0))
    of = formula({"oil": "98.5", "tocopherol": "1.5"}, {"oil": oil, "tocopherol": tocopherol}, "body oil", ())

    assert Fraction("97.515") == value(of, "nop_organic")
    assert value(of, "nop_organic_label") == 97
    assert "holds" == verdict("nop-organic", of)
    short = formula({"oil": "95.92", "tocopherol": "4.08"}, {"oil": oil, "tocopherol": tocopherol}, "body oil", ())
    assert 94 == value(short, "nop_organic_label")
    assert "fails" == verdict("nop-organic", short)
    assert "holds" == verdict("nop-made-with", short)


def test_nop_leaves_water_out_and_has_a_gate() -> None:
    oil = material({"Helianthus Annuus Seed Oil": 100}, OIL.format(100, 100))
    cream = formula({"oil": "20"}, {"oil": oil}, "body cream", ())
    benzoate = material({"Sodium Benzoate": 100}, "[nop]\nleft_out = 0\norganic = 0\n[origin]\nnatural_origin = 0\n")
    preserved = formula({"oil": "20", "b": "0.3"}, {"oil": oil, "b": benzoate}, "body cream", ())

    assert 100 == value(cream, "nop_organic")
    assert "holds" == verdict("nop-organic", cream)
    assert "fails" == verdict("nop-organic", preserved)  # 98 %, and blocked all the same: no list has it
    assert "fails" == verdict("nsf-305", preserved)


def test_nop_asks_for_what_is_missing() -> None:
    oil = material({"Helianthus Annuus Seed Oil": 100}, "[cosmos]\nppai = 100\n")

    assert "needs information" == verdict("nop-made-with", formula({"oil": "20"}, {"oil": oil}, "body cream", ()))


ORIGIN = "[origin]\nnatural = {}\nnatural_origin = {}\norganic = 0\norganic_origin = 0\n"


def test_content_claims_of_a_wash() -> None:
    """50 jojoba (1.0), 25 coco-glucoside (0.8), 23 water (1), 2 preservative (0): 93 %."""
    materials = {
        "jojoba": material({"Simmondsia Chinensis Seed Oil": 100}, ORIGIN.format(1, 1)),
        "glucoside": material({"Coco-Glucoside": 100}, ORIGIN.format(0, 0.8)),
        "preservative": material({"Phenoxyethanol": 100}, ORIGIN.format(0, 0)),
        "water": material(
            {"Aqua": 100},
            "[origin]\nnatural = 1\nnatural_origin = 1\norganic = 0\norganic_origin = 0\nformulation_water = true\n",
        ),
    }
    of = formula({"jojoba": "50", "glucoside": "25", "preservative": "2"}, materials, "shower gel", ())

    assert 93 == value(of, "natural_origin")
    assert "holds" == verdict("natural-origin at least 93 %", of)
    assert "fails" == verdict("natural-origin at least 93.01 %", of)
    assert "fails" == verdict("natural-origin at least 91 % without water", of)  # 70 / 77 = 90.91 %
    assert "fails" == verdict("fr-natural-origin", of)
    assert "fails" == verdict("fr-natural", of)


def test_austria() -> None:
    """Codex 6.4.1: O/W emulsions 20 %; 6.4.2: water that thins a concentrate back never counts; 6.3.2: no two forms."""
    oil = material({"Helianthus Annuus Seed Oil": 100}, OIL.format(100, 100))
    plain = material({"Helianthus Annuus Seed Oil": 100}, OIL.format(0, 0))
    emulsion = 'form = "emulsion"\n'

    assert "holds" == verdict("at-organic", formula({"oil": "20"}, {"oil": oil}, "body cream", (), emulsion))
    assert "fails" == verdict("at-organic", formula({"oil": "19"}, {"oil": oil}, "body cream", (), emulsion))
    mixed = formula({"oil": "60", "plain": "1"}, {"oil": oil, "plain": plain}, "body cream", (), emulsion)
    assert "fails" == verdict("at-organic", mixed)


def test_an_older_charter_cream() -> None:
    """Organic plant 22.3 + organic floral water 13, other plant 0.6: organic share of plant 98.3, of total 35.3 %."""
    materials = {
        "organic": material({"A": 100}, OIL.format(100, 100)),
        "other": material({"B": 100}, OIL.format(0, 0)),
        "natural": material({"C": 100}, "[cosmos]\ncpai = 100\ncpai_organic = 0\n"),
        "synthetic": material({"Potassium Sorbate": 100}, "[cosmos]\nnni = 100\n"),
    }
    of = formula({"organic": "35.3", "other": "0.6", "natural": "8", "synthetic": "3.1"}, materials, "body cream", ())

    assert Fraction("35.3") == value(of, "cosmos_organic_total")
    assert Fraction("96.9") == value(of, "cosmos_natural_origin")
    assert 98.3 == pytest.approx(float(value(of, "cosmos_ppai_organic_share") or 0), abs=0.05)
