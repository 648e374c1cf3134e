"""Lists of raw materials, prices, allergens and weighings as they come: what is to be written of each."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any

import pytest

from formula_vcs.sheets.answers import Answers
from tests.helpers_sheets import csv_text, data_of, ods, planned, unclear, xlsx

SHEA = """\
title    = "Shea butter, refined"
supplier = "Grey Gannet Oils"
code     = "GG-SH"

[substances]
"Butyrospermum Parkii Butter" = 100   # by the supplier

[[price]]
cost  = "5.10 EUR/kg"
since = 2025-01-06

[[price]]
cost  = "6.30 EUR/kg"                 # kernel export ban
since = 2025-10-06
"""
FILES = {
    "ingredients/shea.toml": SHEA,
    "ingredients/oil.toml": 'title = "Orange oil"\n[substances]\n"Citrus Aurantium Dulcis Peel Oil" = 100\n',
}
PRICE_HEADS = [
    ["Code", "Raw material", "Price EUR/kg"],
    ["Artikelnummer", "Bezeichnung", "Preis [EUR/kg]"],
    ["Réf.", "Désignation", "Prix (EUR/kg)"],
    ["Código", "Nombre comercial", "Precio €/kg"],
    ["Codice", "Nome commerciale", "Prezzo EUR/kg"],
]


@pytest.mark.parametrize("heads", PRICE_HEADS, ids=["en", "de", "fr", "es", "it"])
def test_a_price_list_adds_a_dated_price_and_keeps_the_rest(heads: list[str]) -> None:
    rows = [["Stand:", "01.12.2026"], [], heads, ["GG-SH", "whatever it is called", 7.1]]
    (change,) = planned(xlsx({"Tabelle1": rows}), FILES).changes
    assert change.path == "ingredients/shea.toml"
    assert change.new == f'{SHEA}\n[[price]]\ncost  = "7.10 EUR/kg"\nsince = 2026-12-01\n'


@pytest.mark.parametrize(
    ("head", "cell", "more", "cost"),
    [
        ("Price EUR/kg", 7.1, [], "7.10 EUR/kg"),
        ("Price EUR/kg", "7,1", [], "7.10 EUR/kg"),
        ("Price", "7,10 €/kg", [], "7.10 EUR/kg"),
        ("Price", "€ 7.10 / kg", [], "7.10 EUR/kg"),
        ("Preis/100 kg (EUR)", 710, [], "7.10 EUR/kg"),
        ("Price EUR/100 kg", 710, [], "7.10 EUR/kg"),
        ("Price USD/lb", 3.25, [], "3.25 USD/lb"),
        ("Price", 7.1, ["EUR", "kg"], "7.10 EUR/kg"),
        ("Price", 355, ["EUR", "50 kg"], "7.10 EUR/kg"),
    ],
)
def test_prices_and_their_units(head: str, cell: Any, more: list[str], cost: str) -> None:
    heads = ["Code", "Material", head, *(["Currency", "per"] if more else [])]
    rows = [heads, ["GG-SH", "Shea", cell, *more]]
    plan = planned(xlsx({"P": rows}), FILES, answers=Answers(since=datetime.date(2026, 12, 1)))
    found = data_of(plan).get("ingredients/shea.toml", {"price": [{}]})["price"][-1]
    assert found == {"cost": cost, "since": datetime.date(2026, 12, 1)}


def test_a_currency_may_stand_in_the_format_of_the_cell() -> None:
    rows = [["Code", "Material", "Price per kg"], ["GG-SH", "Shea", 7.1]]
    book = xlsx({"P": rows}, look={"P!C2": '#,##0.00\\ "€"'})
    plan = planned(book, FILES, answers=Answers(since=datetime.date(2026, 12, 1)))
    assert data_of(plan)["ingredients/shea.toml"]["price"][-1]["cost"] == "7.10 EUR/kg"


def test_prices_without_currency_or_day_are_asked_about_once_and_not_taken() -> None:
    rows = [["Code", "Material", "Price"], ["GG-SH", "Shea", 7.1]]
    plan = planned(xlsx({"P": rows}), FILES)
    assert [question.key for question in plan.questions] == ["unit.price"]
    assert plan.changes == []
    plan = planned(xlsx({"P": rows}), FILES, answers=Answers(told={"unit.price": "EUR/kg"}))
    assert [question.key for question in plan.questions] == ["since"]
    assert "ingredients/shea.toml" not in data_of(plan)
    assert data_of(plan)["import.toml"]["table"] == [{"heads": "code; material; price", "unit": {"price": "EUR/kg"}}]
    answers = Answers(tables={"code; material; price": {"unit.price": "EUR/kg"}}, since=datetime.date(2026, 12, 1))
    assert planned(xlsx({"P": rows}), FILES, answers=answers).questions == []


def test_a_price_that_did_not_change_writes_nothing() -> None:
    rows = [["Code", "Material", "Price EUR/kg", "Valid from"], ["GG-SH", "Shea", 6.3, datetime.date(2026, 12, 1)]]
    plan = planned(xlsx({"P": rows}), FILES)
    assert plan.changes == []
    assert plan.outcomes[0].same == 1


def test_quantity_breaks_go_on_with_the_material_above() -> None:
    rows = [
        ["Material", "from quantity (kg)", "Price EUR/kg", "Valid from"],
        ["Orange oil", 1, 30, "2026-12-01"],
        [None, 25, 27.5, "2026-12-01"],
    ]
    assert data_of(planned(xlsx({"P": rows}), FILES))["ingredients/oil.toml"]["price"] == [
        {"cost": "30.00 EUR/kg", "from": "1 kg", "since": datetime.date(2026, 12, 1)},
        {"cost": "27.50 EUR/kg", "from": "25 kg", "since": datetime.date(2026, 12, 1)},
    ]


def test_a_day_that_may_be_a_month_is_no_day() -> None:
    rows = [["Code", "Material", "Price EUR/kg", "Valid from"], ["GG-SH", "Shea", 7.1, "03/04/2026"]]
    plan = planned(xlsx({"P": rows}), FILES)
    assert plan.changes == []
    assert "day or month first" in unclear(plan)[0]


MATERIALS = {
    "en": ["Trade name", "Supplier", "INCI", "% in raw material", "CAS", "Function", "Density (g/mL)"],
    "de": ["Handelsname", "Lieferant", "INCI", "% im Rohstoff", "CAS-Nr.", "Funktion", "Dichte [g/ml]"],
    "fr": [
        "Nom commercial",
        "Fournisseur",
        "Nom INCI",
        "% dans la matière première",
        "CAS",
        "Fonction",
        "Densité (g/ml)",
    ],
    "es": ["Nombre comercial", "Proveedor", "INCI", "% en la materia prima", "Nº CAS", "Función", "Densidad (g/ml)"],
    "it": ["Nome commerciale", "Fornitore", "INCI", "% nella materia prima", "N. CAS", "Funzione", "Densità (g/ml)"],
}


@pytest.mark.parametrize("language", MATERIALS)
def test_a_list_of_materials_with_a_row_a_substance(language: str) -> None:
    rows = [
        ["List of raw materials 2026"],
        MATERIALS[language],
        ["Mild soap 50", "Holm Fen", "Decyl Glucoside", 50, "68515-73-1", "surfactant", 1.1],
        [None, None, "Aqua", 50, "7732-18-5", None, None],
        ["Clear gum", "Holm Fen", "Xanthan Gum", 100, "11138-66-2", "thickener", None],
    ]
    plan = planned(xlsx({"Sheet1": rows}), FILES)
    written = data_of(plan)
    assert written["ingredients/mild-soap-50.toml"] == {
        "title": "Mild soap 50",
        "supplier": "Holm Fen",
        "functions": ["surfactant"],
        "density": "1.1 g/mL",
        "substances": {
            "Decyl Glucoside": {"pct": 50, "cas": "68515-73-1"},
            "Aqua": {"pct": 50, "cas": "7732-18-5"},
        },
    }
    assert written["ingredients/clear-gum.toml"]["substances"] == {"Xanthan Gum": {"pct": 100, "cas": "11138-66-2"}}
    assert not unclear(plan)
    assert not plan.questions


def test_a_list_of_materials_as_separated_values_with_indices_and_prices() -> None:
    rows = [
        ["Nome commerciale", "INCI", "% nella materia prima", "Indice di origine naturale", "Prezzo €/kg"],
        ["Gomma", "Xanthan Gum", "100", "100 %", "14,50"],
        ["Sapone", "Decyl Glucoside", "50,5", "0,97", "3,20"],
    ]
    written = data_of(planned(csv_text(rows), FILES, name="l.csv"))
    assert written["ingredients/gomma.toml"]["origin"] == {"natural_origin": 1}
    assert written["ingredients/sapone.toml"]["origin"] == {"natural_origin": Decimal("0.97")}
    assert written["ingredients/sapone.toml"]["substances"] == {"Decyl Glucoside": Decimal("50.5")}
    assert written["ingredients/gomma.toml"]["price"] == [{"cost": "14.50 EUR/kg"}]


def test_one_unclear_number_leaves_the_whole_composition() -> None:
    rows = [["Trade name", "INCI", "% in material"], ["Soap", "Decyl Glucoside", "ca. 50"], [None, "Aqua", 50]]
    plan = planned(xlsx({"L": rows}), FILES)
    assert "substances" not in data_of(plan)["ingredients/soap.toml"]
    assert any(line.startswith("L!C2") for line in unclear(plan))


@pytest.mark.parametrize(
    ("printed", "written"),
    [
        ("28 to 32", "28 to 32"), ("28-32 %", "28 to 32"), ("28 \u2013 32", "28 to 32"), ("28 % - 32 %", "28 to 32"),
        ("28,5-32", "28.5 to 32"), ("0.5 bis 1,5 %", "0.5 to 1.5"), ("<5", "at most 5"), ("< 5 %", "at most 5"),
        ("\u2264 0,5", "at most 0.5"), ("max. 5", "at most 5"), (">=95", "at least 95"), ("\u2265 95 %", "at least 95"),
        ("min 95", "at least 95"), ("99-100", "99 to 100"),
    ],
)  # fmt: skip
def test_a_range_as_suppliers_print_it(printed: str, written: str) -> None:
    rows = [["Trade name", "INCI", "% in material"], ["Soap", "Decyl Glucoside", printed], [None, "Aqua", "ad 100"]]

    plan = planned(xlsx({"L": rows}), FILES)

    assert not unclear(plan)
    assert data_of(plan)["ingredients/soap.toml"]["substances"] == {"Decyl Glucoside": written, "Aqua": "to 100"}


@pytest.mark.parametrize("printed", ["32-28", "28-132", ">=101", "<", "28-30-32", "1,250-2,500", "28 or 32"])
def test_what_is_no_range_leaves_the_composition(printed: str) -> None:
    rows = [["Trade name", "INCI", "% in material"], ["Soap", "Decyl Glucoside", printed], [None, "Aqua", "ad 100"]]

    plan = planned(xlsx({"L": rows}), FILES)

    assert "substances" not in data_of(plan)["ingredients/soap.toml"]
    assert any(line.startswith("L!C2") for line in unclear(plan))


def test_ranges_in_one_cell_and_a_composition_on_file_that_stays() -> None:
    soap = {"Decyl Glucoside": "50 to 54", "Aqua": "to 100"}
    rows = [["Trade name", "INCI", "% INCI"], ["Soap", "Decyl Glucoside; Aqua", "50-54 %; ad 100"]]

    assert data_of(planned(xlsx({"L": rows}), FILES))["ingredients/soap.toml"]["substances"] == soap


def test_a_cas_number_that_became_a_date_is_said() -> None:
    rows = [["Trade name", "INCI", "% in material", "CAS"], ["Soap", "Decyl Glucoside", 100, datetime.date(2056, 3, 1)]]
    plan = planned(xlsx({"L": rows}), FILES)
    assert any("has become a date" in line for line in unclear(plan))
    assert data_of(plan)["ingredients/soap.toml"]["substances"] == {"Decyl Glucoside": 100}


def test_a_list_changes_what_changed_and_keeps_comments() -> None:
    rows = [
        ["Trade name", "Code", "Supplier", "CAS"],
        ["Shea butter, refined", "GG-SH", "Grey Gannet Oils & Sons", None],
    ]
    (change,) = planned(xlsx({"L": rows}), FILES).changes
    assert change.new == SHEA.replace('"Grey Gannet Oils"', '"Grey Gannet Oils & Sons"')


STATEMENT = [
    ["Product:", "Orange oil"],
    [],
    ["Allergen", "CAS", "%"],
    ["Limonene", "138-86-3", 94.5],
    ["Linalool", "78-70-6", "<0.01"],
    ["Citral", "5392-40-5", "n.d."],
    ["Geranial", "141-27-5", 0],
]


@pytest.mark.parametrize("book", [xlsx({"S": STATEMENT}), ods({"S": STATEMENT}), csv_text(STATEMENT)])
def test_an_allergen_statement_of_one_material(book: bytes) -> None:
    plan = planned(book, FILES)
    assert data_of(plan)["ingredients/oil.toml"]["allergens"] == {
        "Limonene": {"pct": Decimal("94.5"), "cas": "138-86-3"},
        "Geranial": {"pct": 0, "cas": "141-27-5"},
    }
    left = [one.words for one in plan.outcomes[0].left]
    assert any("Linalool" in words and "<0.01" in words for words in left)


def test_allergens_in_ppm_and_by_material() -> None:
    rows = [["Rohstoff", "Allergen", "Gehalt [ppm]"], ["Orange oil", "Limonene", 945000], [None, "Linalool", 120]]
    assert data_of(planned(xlsx({"S": rows}), FILES))["ingredients/oil.toml"]["allergens"] == {
        "Limonene": Decimal("94.5"),
        "Linalool": Decimal("0.012"),
    }


def test_allergens_with_a_column_a_material() -> None:
    rows = [
        ["Allergène", "Orange oil (%)", "Shea butter, refined"],
        ["Limonene", "94,5", None],
        ["Linalool", "0,3", None],
    ]
    plan = planned(xlsx({"S": rows}), FILES)
    assert data_of(plan)["ingredients/oil.toml"]["allergens"] == {
        "Limonene": Decimal("94.5"),
        "Linalool": Decimal("0.3"),
    }


def test_a_statement_of_nobody_is_asked_about() -> None:
    rows = [["Fragrance:", "Bouquet 12"], ["Allergen", "%"], ["Limonene", 1.5]]
    plan = planned(xlsx({"S": rows}), FILES)
    assert [question.key for question in plan.questions] == ["name:Bouquet 12"]
    assert plan.changes == []


@pytest.mark.parametrize(
    "heads",
    [
        ["Material", "Target (g)", "Weighed (g)", "Lot"],
        ["Rohstoff", "Soll [g]", "Ist [g]", "Charge"],
        ["Matière première", "Cible (g)", "Pesé (g)", "Lot"],
        ["Materia prima", "Objetivo (g)", "Pesado (g)", "Lote"],
        ["Materia prima", "Teorico (g)", "Pesato (g)", "Lotto"],
    ],
    ids=["en", "de", "fr", "es", "it"],
)
def test_weighings_come_out_in_plain_form(heads: list[str]) -> None:
    rows = [
        ["Batch:", "hc-044"],
        heads,
        ["Orange oil", 100, "100,2", "L-1"],
        ["Shea butter, refined", 50, "49,9", "L-2"],
    ]
    plan = planned(xlsx({"W": rows}), FILES)
    (weighings,) = plan.weighings
    assert weighings.batch == "hc-044"
    assert weighings.table.decode().splitlines()[1:] == [
        "Orange oil;100.2;g;L-1;;;;",
        "Shea butter, refined;49.9;g;L-2;;;;",
    ]


def test_a_price_for_a_pack_is_worked_out_where_that_is_exact() -> None:
    rows = [
        ["Material", "Pack size", "Price per pack (EUR)", "Valid from"],
        ["Orange oil", "25 kg", 60, "2027-01-01"],
        ["Shea butter, refined", "3 kg", 20, "2027-01-01"],
    ]
    plan = planned(xlsx({"P": rows}), FILES)
    assert data_of(plan)["ingredients/oil.toml"]["price"][0]["cost"] == "2.40 EUR/kg"
    assert unclear(plan) == ["P!C3: 20 EUR for 3 kg is no exact price for one"]


def test_swiss_thousands() -> None:
    rows = [
        ["Preisliste", "gültig ab", "1.1.2027"],
        ["Art.-Nr.", "Bezeichnung", "Preis CHF/kg"],
        ["GG-SH", "Shea", "1'234.50"],
    ]
    assert data_of(planned(xlsx({"P": rows}), FILES))["ingredients/shea.toml"]["price"][-1] == {
        "cost": "1234.50 CHF/kg",
        "since": datetime.date(2027, 1, 1),
    }


def test_a_composition_in_one_cell_and_one_that_fills_up() -> None:
    rows = [
        ["Trade name", "INCI", "% INCI"],
        ["PreserveMix", "Phenoxyethanol; Ethylhexylglycerin", "90; 10"],
        ["Soap", "Decyl Glucoside", "52,5"],
        [None, "Aqua", "ad 100"],
    ]
    written = data_of(planned(xlsx({"L": rows}), FILES))
    assert written["ingredients/preservemix.toml"]["substances"] == {"Phenoxyethanol": 90, "Ethylhexylglycerin": 10}
    assert written["ingredients/soap.toml"]["substances"] == {
        "Decyl Glucoside": Decimal("52.5"),
        "Aqua": Decimal("47.5"),
    }


@pytest.mark.parametrize(
    "line",
    [
        "Preisliste gültig ab 1.1.2027", "Prices from 1 January 2027", "Tarif valable à partir du 1er janvier 2027",
        "Lista de precios válido desde 1 de enero de 2027", "Listino valido dal 1 gennaio 2027", "Stand: 2027-01-01",
    ],
)  # fmt: skip
def test_the_day_of_a_list_stands_above_it(line: str) -> None:
    rows = [[line], ["Code", "Material", "Price EUR/kg"], ["GG-SH", "Shea", 7.1]]
    assert data_of(planned(xlsx({"P": rows}), FILES))["ingredients/shea.toml"]["price"][-1]["since"] == (
        datetime.date(2027, 1, 1)
    )


def test_a_statement_without_the_word_in_its_heads() -> None:
    rows = [
        ["Allergenerklärung"],
        ["Produkt: Orange oil"],
        ["INCI", "CAS-Nr.", "Gehalt (ppm)"],
        ["Limonene", "138-86-3", 945000],
    ]
    assert data_of(planned(xlsx({"S": rows}), FILES))["ingredients/oil.toml"]["allergens"] == {
        "Limonene": {"pct": Decimal("94.5"), "cas": "138-86-3"}
    }
