"""The pH of a recipe: what is counted, what is left out, and when there is no number."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.chemistry.substances import kind_of
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.ph import PhEstimate, estimate
from formula_vcs.model.ingredient import inci_key
from tests.helpers_demo import sums as demo
from tests.published.helpers_workspace import figure, formula, material


def of(parts: dict[str, str], **more: str) -> PhEstimate:
    """Estimate substances in % w/w, water to 100; ``more`` are lines of the material m0's file."""
    ids = {f"m{place}": name for place, name in enumerate(parts)}
    lines = "\n".join(f"{key} = {parts[name]}" for key, name in ids.items())
    text = f'title = "x"\n[phase.A.charge]\nwater = "to 100"\n{lines}\n'
    own = [f"{key} = {value}" for key, value in more.items()]
    materials = {key: material(name, *(own if key == "m0" else ())) for key, name in ids.items()}
    return estimate(Breakdown(formula(text, materials | {"water": material("Aqua")})))


def why(parts: dict[str, str], **more: str) -> str:
    found = of(parts, **more)
    assert found.pH is None, found
    return "; ".join(found.missing)


@pytest.mark.parametrize(
    ("parts", "pH", "off"),
    [
        ({"Triethanolamine": "1"}, 10.29, 0.03),
        ({"Triethanolamine": "2.4", "Lactic Acid": "1.6"}, 4.7, 0.1),
        ({"Arginine": "3", "Lactic Acid": "1.6"}, 5.25, 0.05),
        ({"Carbomer": "0.25", "Sodium Hydroxide": "0.1"}, 7.0, 0.1),
        ({"Niacinamide": "5", "Citric Acid": "0.02"}, 5.65, 0.05),
        ({"Ascorbic Acid": "15"}, 2.1, 0.1),
        ({"Sodium Hydroxide": "1"}, 13.27, 0.03),
        ({"Sodium Benzoate": "0.5", "Citric Acid": "0.1"}, 4.64, 0.03),
        ({"Potassium Sorbate": "0.3", "Citric Acid": "0.1"}, 4.82, 0.03),
        ({"Tetrasodium EDTA": "0.1"}, 10.84, 0.03),
        ({"Sodium Lactate": "2", "Lactic Acid": "0.2"}, 4.64, 0.03),
        ({"Sodium Bicarbonate": "1"}, 8.11, 0.03),
        ({"Aminomethyl Propanol": "0.1"}, 10.87, 0.03),
        ({"Glycolic Acid": "5"}, 2.00, 0.03),
    ],
)
def test_worked_mixtures(parts: dict[str, str], pH: float, off: float) -> None:
    """Worked elsewhere by charge balance with Davies' activities; not measured."""
    found = of(parts)

    assert found.pH is not None, found.missing
    assert found.pH == pytest.approx(pH, abs=off)
    assert found.low <= found.pH <= found.high


def test_nothing_is_left_out_in_silence() -> None:
    assert why({"Citric Acid": "0.3", "Novel Polymer": "0.06"}) == (
        "Novel Polymer: in no list of acids, bases and neutral substances"
    )


def test_a_trace_of_what_is_not_known_is_left_out_and_named() -> None:
    found = of({"Citric Acid": "0.3", "Novel Polymer": "0.05"})

    assert found.pH is not None
    assert "left out, little as it is: Novel Polymer" in found.basis
    plain = of({"Citric Acid": "0.3"})
    assert found.high - found.low > plain.high - plain.low


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"Olea Europaea Fruit Oil": "60", "Sodium Hydroxide": "9.4"}, "it turns oils and esters into soap"),
        ({"Stearic Acid": "18", "Potassium Hydroxide": "1"}, "soap with Potassium Hydroxide"),
        ({"Stearic Acid": "2", "Triethanolamine": "1"}, "soap with Triethanolamine"),
        ({"Sodium Stearate": "5", "Citric Acid": "0.1"}, "soap: about 8 to 10.5"),
        ({"Sodium Hydroxide": "30"}, "outside what can be computed"),
        ({"Zinc Oxide": "5", "Citric Acid": "0.1"}, "a mineral that takes up acid"),
        ({"Sodium Cocoyl Glutamate": "3", "Citric Acid": "0.1"}, "itself acid, base or buffer"),
        ({"Decyl Glucoside": "5", "Citric Acid": "0.1"}, "sold alkaline"),
        ({"Acrylates Copolymer": "2", "Sodium Hydroxide": "0.1"}, "equivalent weight differs by grade"),
        ({"Sodium Phytate": "0.1", "Citric Acid": "0.1"}, "Sodium Phytate"),
        ({"Hydrolyzed Wheat Protein": "0.6", "Citric Acid": "0.1"}, "buffers by itself, above 0.5 %"),
        ({"Chamomilla Recutita Flower Extract": "1.1", "Citric Acid": "0.1"}, "pH of its own, above 1 %"),
        ({"Hamamelis Virginiana Leaf Water": "5.1", "Lactic Acid": "0.1"}, "pH of its own, above 5 %"),
        ({"Hydrated Silica": "5.1", "Sodium Benzoate": "0.5", "Citric Acid": "0.1"}, "by grade, above 5 %"),
        ({"Xanthan Gum": "1.1", "Sodium Lactate": "1", "Lactic Acid": "0.1"}, "acid groups, above 1 %"),
        ({"Xanthan Gum": "0.5", "Lactic Acid": "1"}, "neutral at pH 4 to 10 only"),
        ({"Alcohol": "30", "Citric Acid": "0.1"}, "solvent: the water phase is 30 % alcohol"),
        ({"Glycerin": "45", "Citric Acid": "0.1"}, "solvent: the water phase is 45 % polyols"),
        ({"Caprylic/Capric Triglyceride": "96", "Citric Acid": "0.1"}, "solvent: 3.9 % water"),
        ({"Sodium Chloride": "4", "Citric Acid": "0.1"}, "ionic strength"),
        ({"Sodium Bicarbonate": "1", "Citric Acid": "1"}, "carbon dioxide escapes"),
        ({"Disodium EDTA": "0.2", "Magnesium Sulfate": "0.7"}, "Magnesium Sulfate binds it"),
        ({"Sodium Borate": "0.2", "Glycerin": "5"}, "with polyols"),
        ({"Salicylic Acid": "2"}, "water dissolves 0.2 %"),
        ({"Glycerin": "5"}, "no acid or base whose constants are known"),
        ({"Aluminum Chlorohydrate": "15"}, "sets acid free"),
    ],
)
def test_when_there_is_no_number(parts: dict[str, str], said: str) -> None:
    assert said in why(parts)


@pytest.mark.parametrize(
    ("parts", "within"),
    [
        ({"Xanthan Gum": "1.0", "Sodium Lactate": "1", "Lactic Acid": "0.1"}, True),
        ({"Hydrated Silica": "5.0", "Sodium Benzoate": "0.5", "Citric Acid": "0.1"}, True),
        ({"Hydrolyzed Wheat Protein": "0.5", "Citric Acid": "0.1"}, True),
        ({"Chamomilla Recutita Flower Extract": "1.0", "Citric Acid": "0.1"}, True),
        ({"Glycerin": "39", "Citric Acid": "0.1"}, True),
        ({"Alcohol": "19", "Citric Acid": "0.1"}, True),
    ],
)
def test_up_to_the_edge_there_is_one(parts: dict[str, str], within: bool) -> None:
    assert within == (of(parts).pH is not None)


def test_a_material_says_what_acid_or_alkali_it_brings() -> None:
    """10 % of a solution with 0.05 mmol/g of alkali is 5 mmol in a kg; so is 0.02 % sodium hydroxide."""
    benzoate = {"Decyl Glucoside": "10", "Sodium Benzoate": "0.5", "Citric Acid": "0.2"}
    plain = of({"Cetyl Alcohol": "10", "Sodium Benzoate": "0.5", "Citric Acid": "0.2", "Sodium Hydroxide": "0.02"})
    found = of(benzoate, alkali='"0.05 mmol/g"')

    assert found.pH is not None
    assert plain.pH is not None
    assert found.pH == pytest.approx(plain.pH, abs=0.01)
    assert "by the file's own acid or alkali, its buffering not counted: m0" in found.basis
    sour = of(benzoate, acid='"0.05 mmol/g"').pH
    assert sour is not None
    assert sour < found.pH


def test_a_material_without_acid_says_nought() -> None:
    found = of(
        {"Hamamelis Virginiana Leaf Water": "10", "Lactic Acid": "0.1", "Sodium Benzoate": "0.4"}, acid='"0 mmol/g"'
    )

    assert found.pH is not None


def test_an_unbuffered_product_has_a_wide_range() -> None:
    found = of({"Niacinamide": "5"})

    assert found.pH is not None
    assert found.high - found.low > 2
    assert any("nothing in it holds the pH: it may be" in line for line in found.basis)


def test_a_hydrate_is_told_by_its_number() -> None:
    """Citric acid monohydrate is 210.14 g/mol: 0.1 % of it is 0.0914 % of the anhydrous."""
    text = 'title = "x"\n[phase.A.charge]\nwater = "to 100"\nacid = {amount}\nsalt = 0.50\n'
    hydrate = 'title = "x"\n[substances]\n"Citric Acid" = {{ pct = 100, cas = "{cas}" }}\n'
    of_cas = [
        estimate(
            Breakdown(
                formula(
                    text.format(amount=amount),
                    {"water": material("Aqua"), "salt": material("Sodium Benzoate"), "acid": hydrate.format(cas=cas)},
                )
            )
        ).pH
        for amount, cas in (("0.10", "5949-29-1"), ("0.0914", "77-92-9"))
    ]

    assert of_cas[0] == pytest.approx(of_cas[1], abs=1e-3)


def test_the_figure_has_a_range_and_two_decimals() -> None:
    text = 'title = "x"\n[phase.A.charge]\nwater = "to 100"\nacid = 0.9008\nsalt = 1.1206\n'
    found = figure(
        formula(text, {"water": material("Aqua"), "acid": material("Lactic Acid"), "salt": material("Sodium Lactate")}),
        "ph_estimate",
    )

    assert found.value == Fraction("3.75")  # pKa 3.86, less 0.1 at an ionic strength of 0.1
    assert found.span is not None
    assert found.span[0] <= found.value <= found.span[1]
    assert "counted: lactic acid; 25 degC, activities by Davies" in found.basis


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Helianthus Annuus Seed Oil", "oil, fat or wax"),
        ("Ceteareth-20", "non-ionic surfactant or emulsifier"),
        ("PEG-40 Hydrogenated Castor Oil", "non-ionic surfactant or emulsifier"),
        ("PEG-8", "polyol or glycol"),
        ("Isopropyl Myristate", "ester"),
        ("Coco-Caprylate/Caprate", "ester"),
        ("Dimethicone", "silicone"),
        ("Amodimethicone", None),
        ("Sodium Laureth Sulfate", "sulfate or sulfonate surfactant"),
        ("Ammonium Lauryl Sulfate", "ammonium or amine sulfate surfactant"),
        ("Sodium Lauroyl Sarcosinate", "surfactant with acid or amine groups"),
        ("Laureth-11 Carboxylic Acid", "surfactant with acid or amine groups"),
        ("Polyquaternium-7", "quat"),
        ("Behentrimonium Methosulfate", "quat"),
        ("CI 77891", "mineral that does not dissolve"),
        ("CI 77947", "mineral that dissolves in acid or exchanges ions"),
        ("CI 19140", "dye"),
        ("Tapioca Starch", "starch"),
        ("Carboxymethyl Starch", None),
        ("Sulfated Castor Oil", None),
        ("Camellia Sinensis Leaf Extract", "botanical extract or powder"),
        ("Aloe Barbadensis Leaf Juice", "botanical water or juice"),
        ("Glyceryl Stearate", "non-ionic surfactant or emulsifier"),
        ("Glyceryl Stearate Citrate", "surfactant with acid or amine groups"),
        ("Glyceryl Stearate SE", "soap"),
        ("Palmitoyl Tripeptide-1", "protein, peptide or ferment"),
        ("Diethylaminoethanol", None),
    ],
)
def test_class_of_a_name(name: str, kind: str | None) -> None:
    found = kind_of(inci_key(name))

    assert kind == (None if found is None else found.name)


@pytest.mark.parametrize("recipe", ["face-toner", "hand-cream", "shower-wash"])
def test_the_demo_can_have_the_ph_of_its_spec(recipe: str) -> None:
    """With what the suppliers titrated, every estimate of the demo reaches into the recipe's spec."""
    whole = demo(recipe)
    found, spec = estimate(whole), whole.formula.recipe.spec["pH"]

    assert found.pH is not None, found.missing
    assert spec.low is not None
    assert spec.high is not None
    assert found.high >= spec.low.base
    assert found.low <= spec.high.base


@pytest.mark.parametrize(("recipe", "said"), [("gum-gel", "solvent"), ("face-polish", "Kaolin: a clay")])
def test_where_the_demo_has_none_it_says_why(recipe: str, said: str) -> None:
    found = estimate(demo(recipe))

    assert found.pH is None
    assert said in "; ".join(found.missing)


@pytest.mark.parametrize("glycerin", ["100", "105", "1000000"])
def test_charges_over_the_whole_leave_no_water_and_crash_nothing(glycerin: str) -> None:
    """The balance is nothing or less: the total's own rule says so."""
    text = f'title = "x"\n[phase.A.charge]\nwater = "to 100"\nm0 = {glycerin}\nm1 = 5\n[spec]\npH = "4 to 5"\n'
    materials = {"m0": material("Glycerin"), "m1": material("Sodium Benzoate"), "water": material("Aqua")}

    assert estimate(Breakdown(formula(text, materials))).pH is None
