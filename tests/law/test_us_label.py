"""The ingredient list of the United States: its names, its colours, the active ingredients apart."""

from __future__ import annotations

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.labelling import ingredient_list, unsure_names
from formula_vcs.reports.sheets import limits
from tests.published.helpers_law import DAY, formula, found, material


def _names(materials: dict[str, dict[str, object]], kind: str = "face cream", market: str = "US") -> list[str]:
    charges = dict.fromkeys(materials, 2)
    of = formula(charges, {name: material(held) for name, held in materials.items()}, kind, ("EU", "US"))
    return [line.inci for line in ingredient_list(Breakdown(of), DAY, market)]


@pytest.mark.parametrize(
    ("inci", "printed"),
    [
        ("Paraffinum Liquidum", "Mineral Oil"),
        ("Cera Alba", "Beeswax"),
        ("CI 77891", "Titanium Dioxide"),
        ("Titanium Dioxide", "Titanium Dioxide"),
        ("CI 77019", "Mica"),
        ("CI 75470", "Carmine"),
        ("CI 19140", "Yellow 5"),
        ("CI 42090", "Blue 1"),
        ("Parfum", "Fragrance"),
        ("Glycerin", "Glycerin"),
        ("Butyrospermum Parkii Butter", "Butyrospermum Parkii Butter"),
    ],
)
def test_names(inci: str, printed: str) -> None:
    assert ["Water", printed] == sorted(_names({"it": {inci: 100}}), key=lambda name: name != "Water")
    assert "Aqua" in _names({"it": {inci: 100}}, market="EU")


def test_no_nano_there() -> None:
    zinc: dict[str, object] = {"Zinc Oxide": "{ pct = 100, nano = true }"}

    assert ["Water", "Zinc Oxide"] == _names({"zinc": zinc})
    assert ["Aqua", "Zinc Oxide (nano)"] == _names({"zinc": zinc}, market="EU")


def test_two_names_that_are_one_there_are_added_up() -> None:
    """CI 77491 and CI 77499 are both iron oxides."""
    assert ["Water", "Iron Oxides"] == _names({"red": {"CI 77491": 100}, "black": {"CI 77499": 100}})


def test_a_number_of_two_colours() -> None:
    red = material({"CI 15850": "100"})
    of = formula({"red": 2}, {"red": red}, "lipstick", ("US",))
    told = formula({"red": 2}, {"red": material({"CI 15850": '{ pct = 100, cas = "5281-04-9" }'})}, "lipstick", ("US",))

    assert "Red 6 or Red 7" in [line.inci for line in ingredient_list(Breakdown(of), DAY, "US")]
    assert ["CI 15850 is Red 6 or Red 7: its CAS number is not stated"] == unsure_names(Breakdown(of), "US")
    assert "Red 7" in [line.inci for line in ingredient_list(Breakdown(told), DAY, "US")]
    assert [] == unsure_names(Breakdown(told), "US")
    assert [] == unsure_names(Breakdown(of), "EU")


def test_active_ingredients_stand_apart() -> None:
    """By 21 CFR 701.3(d), the most first, by the names of the monograph (21 CFR 352.10)."""
    held = {"a": {"Butyl Methoxydibenzoylmethane": 100}, "b": {"Ethylhexyl Salicylate": 100}, "c": {"Cera Alba": 100}}
    of = formula({"a": 3, "b": 5, "c": 2}, {k: material(v) for k, v in held.items()}, "sun lotion", ("EU", "US"))
    lines = ingredient_list(Breakdown(of), DAY, "US")

    assert [("Octisalate", "active"), ("Avobenzone", "active"), ("Water", "ordered"), ("Beeswax", "ordered")] == [
        (line.inci, line.part) for line in lines
    ]
    assert all(line.part != "active" for line in ingredient_list(Breakdown(of), DAY, "EU"))
    assert "Butyl Methoxydibenzoylmethane" in [line.inci for line in ingredient_list(Breakdown(of), DAY, "EU")]


@pytest.mark.parametrize(
    ("name", "kind", "header"),
    [
        ("Mercuric Iodide", "face cream", ""),
        ("Ammoniated Mercury", "face cream", ""),
        ("Calomel", "skin lightening cream", ""),
        ("Thimerosal", "face cream", ""),
        ("Aluminum Zirconium Pentachlorohydrex Gly", "antiperspirant spray", 'spray = "aerosol"'),
        ("Zirconyl Chloride", "antiperspirant spray", 'spray = "aerosol"'),
    ],
)
def test_a_family_is_banned_by_whatever_name(name: str, kind: str, header: str) -> None:
    """Any compound of mercury (21 CFR 700.13), any of zirconium in aerosols (21 CFR 700.16)."""
    of = formula({"it": 1}, {"it": material({name: 100})}, kind, ("US",), header)

    assert any(f.rule == "prohibited" and f.severity == "block" for f in found(of))


@pytest.mark.parametrize(("pct", "blocked"), [("0.0131", False), ("0.0132", True)])
def test_mercury_near_the_eye(pct: str, blocked: bool) -> None:
    """65 ppm as mercury, of which thimerosal is 49.55 %: 0.01312 % of it (21 CFR 700.13(d)(2)(ii))."""
    of = formula({"it": pct}, {"it": material({"Thimerosal": 100})}, "eye shadow", ("US",))

    assert blocked == any(f.rule == "limit" and f.severity == "block" for f in found(of))


def test_a_plant_is_no_mercury() -> None:
    of = formula({"it": 1}, {"it": material({"Mercurialis Perennis Extract": 100})}, "face cream", ("US",))

    assert not any(f.rule == "prohibited" for f in found(of))


def test_a_pump_is_no_aerosol() -> None:
    zirconium = {"it": material({"Aluminum Zirconium Pentachlorohydrex Gly": 100})}
    of = formula({"it": 5}, zirconium, "antiperspirant spray", ("US",), 'spray = "pump"')

    assert not any(f.severity == "block" for f in found(of))


@pytest.mark.parametrize(
    ("stated", "eu", "us"),
    [
        ("Mineral Oil", "Paraffinum Liquidum", "Mineral Oil"),
        ("Beeswax", "Cera Alba", "Beeswax"),
        ("Fragrance", "Parfum", "Fragrance"),
        ("FD&C Blue No. 1", "CI 42090", "Blue 1"),
        ("E202", "Potassium Sorbate", "Potassium Sorbate"),
        ("Red 7 Lake", "Red 7 Lake", "Red 7 Lake"),
    ],
)
def test_each_market_has_its_own_name_whatever_is_stated(stated: str, eu: str, us: str) -> None:
    """Regulation (EC) No 1223/2009, Article 19(6) and 33: the glossary's name; 21 CFR 701.3(c)."""
    assert eu in _names({"it": {stated: 100}}, market="EU")
    assert us in _names({"it": {stated: 100}})


def test_the_maxima_of_actives_are_among_the_limits() -> None:
    """5 % octisalate of at most 5 % (21 CFR 352.10); what has no maximum is under none."""
    of = formula({"a": 5}, {"a": material({"Ethylhexyl Salicylate": 100})}, "sun lotion", ("US",))
    (use,) = limits(Compliance(of, Breakdown(of)), DAY)

    assert [5, 5, 0] == [use.amount.used, use.allowed, use.left]
    oat = formula({"a": 1}, {"a": material({"Avena Sativa Kernel Meal": 100})}, "skin protectant", ("US",))
    assert () == limits(Compliance(oat, Breakdown(oat)), DAY)
