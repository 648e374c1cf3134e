"""Formulas as labs keep them: five languages, many layouts; each sheet with what is to come of it."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any

import pytest

from formula_vcs.sheets.answers import Answers
from tests.helpers_sheets import charges, csv_text, data_of, ods, planned, unclear, xlsx

FILES = {
    "ingredients/water.toml": 'title = "Purified water"\n[substances]\n"Aqua" = 100\n',
    "ingredients/glycerin.toml": 'title = "Vegetable glycerin"\ncode = "GL-1"\n[substances]\n"Glycerin" = 100\n',
    "ingredients/sunflower-oil.toml": 'title = "Sunflower oil"\n[substances]\n"Helianthus Annuus Seed Oil" = 100\n',
    "ingredients/shea-butter.toml": 'title = "Shea butter"\n[substances]\n"Butyrospermum Parkii Butter" = 100\n',
    "ingredients/sodium-benzoate.toml": 'title = "Sodium benzoate"\n[substances]\n"Sodium Benzoate" = 100\n',
}
WANTED = {
    "A": {"water": "to 100", "glycerin": "5.00"},
    "B": {"sunflower-oil": "4.25", "shea-butter": "3.00"},
    "C": {"sodium-benzoate": "0.40"},
}
ENGLISH: Any = [
    ["Formula:", "Test cream"],
    [],
    ["Phase", "Raw material", "INCI", "% w/w", "Function"],
    ["A", "Purified water", "Aqua", "to 100", "Solvent"],
    ["A", "Vegetable glycerin", "Glycerin", 5, "Humectant"],
    ["B", "Sunflower oil", "Helianthus Annuus Seed Oil", 4.25, "Emollient"],
    ["B", "Shea butter", "Butyrospermum Parkii Butter", 3, "Emollient"],
    ["C", "Sodium benzoate", "Sodium Benzoate", 0.4, "Preservative"],
    [None, "Total", None, 100, None],
]
GERMAN_HEADINGS = [
    ["Rezeptur: Test cream", None, None],
    ["Version 3", None, None],
    ["Rohstoff", "INCI-Bezeichnung", "Anteil [%]"],
    ["Phase A: Wasserphase", None, None],
    ["Wasser", "Aqua", "ad 100"],
    ["Glycerin", "Glycerin", "5,00"],
    ["Zwischensumme", None, "5,00"],
    ["Phase B: Ölphase", None, None],
    ["Sonnenblumenöl", "Helianthus Annuus Seed Oil", "4,25"],
    ["Sheabutter", "Butyrospermum Parkii Butter", "3,00"],
    ["Phase C", None, None],
    ["Natriumbenzoat", "Sodium Benzoate", "0,40"],
    ["Summe", None, "100,00"],
    [],
    ["Herstellung: A auf 75 °C erwärmen."],
]
FRENCH_PERCENT = [
    ["Nom du produit", "Test cream", None, None],
    [None, None, None, None],
    ["Ph.", "Matière première", "Nom INCI", "Teneur"],
    ["A", "Eau purifiée", "Aqua", "q.s.p. 100"],
    [None, "Glycérine", "Glycerin", 0.05],
    ["B", "Huile de tournesol", "Helianthus Annuus Seed Oil", 0.0425],
    [None, "Beurre de karité", "Butyrospermum Parkii Butter", 0.03],
    ["C", "Benzoate de sodium", "Sodium Benzoate", 0.004],
]
SPANISH = [
    ["Test cream"],
    ["Fase", "Materia prima", "INCI", "Cantidad (%)", "Función"],
    ["A", "Agua", "Aqua", "c.s.p. 100", "disolvente"],
    ["A", "Glicerina", "Glycerin", "5,0", "humectante"],
    ["B", "Aceite de girasol", "Helianthus Annuus Seed Oil", "4,25", "emoliente"],
    ["B", "Manteca de karité", "Butyrospermum Parkii Butter", "3", "emoliente"],
    ["C", "Benzoato sódico", "Sodium Benzoate", "0,4", "conservante"],
    [None, "TOTAL", None, "100", None],
]
ITALIAN_BESIDE = [
    ["Materia prima", "INCI", "Test cream", "Altra crema"],
    ["Acqua", "Aqua", "q.b. a 100", "q.b. a 100"],
    ["Glicerina", "Glycerin", 5, 2],
    ["Olio di girasole", "Helianthus Annuus Seed Oil", 4.25, None],
    ["Burro di karité", "Butyrospermum Parkii Butter", 3, 1],
    ["Benzoato di sodio", "Sodium Benzoate", 0.4, 0.4],
    ["Totale", None, 100, 100],
]
COLOURS = [
    ["Test cream", None, None, None, "Legend"],
    ["Material", "INCI", "%", None, "Phase A"],
    ["Water", "Aqua", "ad 100", None, "Phase B"],
    ["Glycerin", "Glycerin", 5, None, "Phase C"],
    ["Sunflower seed oil", "Helianthus Annuus Seed Oil", 4.25, None, None],
    ["Shea", "Butyrospermum Parkii Butter", 3, None, None],
    ["Benzoate", "Sodium Benzoate", 0.4, None, None],
]
COLOUR_LOOK = {
    "S!E2": "#DDEEFF", "S!E3": "#FFEEDD", "S!E4": "#DDFFDD",
    "S!A3:C4": "#DDEEFF", "S!A5:C6": "#FFEEDD", "S!A7:C7": "#DDFFDD",
}  # fmt: skip
NAMES = Answers(names={"Sunflower seed oil": "sunflower-oil", "Shea": "shea-butter", "Benzoate": "sodium-benzoate"})
FRENCH_NAMES = Answers(
    names={
        "Eau purifiée": "water", "Huile de tournesol": "sunflower-oil", "Beurre de karité": "shea-butter",
        "Benzoate de sodium": "sodium-benzoate", "Agua": "water", "Glicerina": "glycerin", "Acqua": "water",
        "Aceite de girasol": "sunflower-oil", "Manteca de karité": "shea-butter", "Benzoato sódico": "sodium-benzoate",
        "Olio di girasole": "sunflower-oil", "Burro di karité": "shea-butter", "Benzoato di sodio": "sodium-benzoate",
        "Sonnenblumenöl": "sunflower-oil",
    }
)  # fmt: skip
MERGED = [
    ["Phase", "Trade name", "Amount %"],
    ["A", "Purified water", "qs 100"],
    [None, "Vegetable glycerin", 5],
    ["B", "Sunflower oil", 4.25],
    [None, "Shea butter", 3],
    ["C", "Sodium benzoate", 0.4],
]
LONG = [
    ["Formula", "Phase", "Ingredient", "%"],
    ["Test cream", "A", "Purified water", "to 100"],
    [None, "A", "Vegetable glycerin", 5],
    [None, "B", "Sunflower oil", 4.25],
    [None, "B", "Shea butter", 3],
    [None, "C", "Sodium benzoate", 0.4],
    ["Other cream", "A", "Purified water", 97],
    [None, "A", "Vegetable glycerin", 3],
]

SHEETS: dict[str, tuple[bytes, str, Answers]] = {
    "english, phase as a column": (xlsx({"Sheet1": ENGLISH}), "b.xlsx", Answers()),
    "german, headings, subtotals, decimal commas": (xlsx({"Tabelle1": GERMAN_HEADINGS}), "b.xlsx", FRENCH_NAMES),
    "german, separated by semicolons": (csv_text(GERMAN_HEADINGS), "b.csv", FRENCH_NAMES),
    "french, percent cells": (
        xlsx({"Feuil1": FRENCH_PERCENT}, look={"Feuil1!D5:D8": "0.00%"}), "b.xlsx", FRENCH_NAMES,
    ),
    "french, percent cells, OpenDocument": (
        ods({"Feuille1": FRENCH_PERCENT}, [f"Feuille1!D{row}" for row in range(5, 9)]), "b.ods", FRENCH_NAMES,
    ),
    "spanish": (xlsx({"Hoja1": SPANISH}), "b.xlsx", FRENCH_NAMES),
    "spanish, OpenDocument": (ods({"Hoja1": SPANISH}), "b.ods", FRENCH_NAMES),
    "phases merged over their rows": (
        xlsx({"Test cream": MERGED}, look={"Test cream!A2:A3": "merge", "Test cream!A4:A5": "merge"}),
        "b.xlsx",
        Answers(),
    ),
    "many formulas by a column": (xlsx({"All": LONG}), "b.xlsx", Answers()),
    "several tables on a sheet": (
        xlsx({"Sheet1": [*ENGLISH, [], ["Formula:", "Second"], ["Raw material", "%"], ["Purified water", 100]]}),
        "b.xlsx",
        Answers(),
    ),
    "sheet is the name": (xlsx({"Test cream": ENGLISH[2:]}), "b.xlsx", Answers()),
}  # fmt: skip


@pytest.mark.parametrize("name", SHEETS)
def test_each_sheet_becomes_the_recipe(name: str) -> None:
    data, file, answers = SHEETS[name]
    plan = planned(data, FILES, name=file, answers=answers)
    written = data_of(plan)
    assert charges(written["test-cream.toml"]) == WANTED
    assert written["test-cream.toml"]["title"] == "Test cream"
    assert unclear(plan) == []
    assert not plan.questions


def test_phases_by_colour_are_named_by_the_legend() -> None:
    plan = planned(xlsx({"S": COLOURS}, look=COLOUR_LOOK), FILES, answers=NAMES)
    assert charges(data_of(plan)["test-cream.toml"]) == WANTED


def test_formulas_beside_each_other_are_named_by_their_heads() -> None:
    plan = planned(xlsx({"Foglio1": ITALIAN_BESIDE}), FILES, answers=FRENCH_NAMES)
    written = data_of(plan)
    one = {**WANTED["A"], **WANTED["B"], **WANTED["C"]}
    assert charges(written["test-cream.toml"]) == {"A": one}
    other = {"water": "to 100", "glycerin": "2.00", "shea-butter": "1.00", "sodium-benzoate": "0.40"}
    assert charges(written["altra-crema.toml"]) == {"A": other}


def test_two_tables_beside_each_other() -> None:
    rows = [
        ["One", None, None, "Two", None],
        ["Raw material", "%", None, "Raw material", "%"],
        ["Purified water", 95, None, "Purified water", 90],
        ["Vegetable glycerin", 5, None, "Vegetable glycerin", 10],
    ]
    written = data_of(planned(xlsx({"Sheet1": rows}), FILES))
    assert charges(written["one.toml"]) == {"A": {"water": "95.00", "glycerin": "5.00"}}
    assert charges(written["two.toml"]) == {"A": {"water": "90.00", "glycerin": "10.00"}}


@pytest.mark.parametrize(
    ("shown", "meant"),
    [
        ("q.s.", "q.s."), ("qs", "q.s."), ("q.b.", "q.s."), ("n.B.", "q.s."), ("ad 100", "to 100"),
        ("to 100", "to 100"), ("auf 100", "to 100"), ("q.s. ad 100", "to 100"), ("q.s.p. 100 %", "to 100"),
        ("csp 100", "to 100"), ("q.b. a 100", "to 100"), ("Rest", "to 100"), ("hasta 100", "to 100"),
        ("a 100", "to 100"), ("à 100", "to 100"), ("ad 100,00", "to 100"), ("5,25 %", "5.25"), ("0,1", "0.10"),
        (0.1, "0.10"), (33.3333, "33.3333"), (Decimal("0.05"), "0.05"),
    ],
)  # fmt: skip
def test_amounts_as_they_are_written(shown: Any, meant: str) -> None:
    rows = [["Phase", "Raw material", "%"], ["A", "Purified water", shown], ["A", "Vegetable glycerin", "1,5"]]
    assert charges(data_of(planned(xlsx({"X": rows}), FILES))["x.toml"])["A"]["water"] == meant


@pytest.mark.parametrize(
    ("shown", "why"),
    [
        ("2-3", "no one number"), ("ca. 2", "no one number"), ("< 0,1", "no one number"), (-1, "negative"),
        ("-1,0", "negative"), (datetime.date(2026, 10, 5), "a date or time"), (True, "true or false"),
        ("1.234,5,6", "decimal sign"),
    ],
)  # fmt: skip
def test_what_is_no_number_becomes_a_comment_and_no_value(shown: Any, why: str) -> None:
    rows = [
        ["Phase", "Raw material", "%"],
        ["A", "Purified water", "to 100"],
        ["A", "Vegetable glycerin", shown],
        ["A", "Shea butter", "1,5"],
    ]
    plan = planned(xlsx({"X": rows}), FILES)
    assert charges(data_of(plan)["x.toml"])["A"] == {"water": "to 100", "shea-butter": "1.50"}
    assert len(unclear(plan)) == 1
    assert unclear(plan)[0].startswith("X!C3: 'Vegetable glycerin'")
    assert why in unclear(plan)[0]
    assert "# import: phase A, 'Vegetable glycerin' is missing: X!C3" in plan.changes[0].new


def test_a_number_merged_over_two_materials_is_nobodys() -> None:
    rows = [
        ["Phase", "Raw material", "%"],
        ["A", "Purified water", "to 100"],
        ["A", "Vegetable glycerin", 5],
        ["A", "Shea butter", None],
    ]
    plan = planned(xlsx({"X": rows}, look={"X!C3:C4": "merge"}), FILES)
    assert charges(data_of(plan)["x.toml"]) == {"A": {"water": "to 100"}}
    assert [line.split(":")[0] for line in unclear(plan)] == ["X!C3", "X!C4"]


def test_a_total_that_the_rows_do_not_make_is_said() -> None:
    rows = [
        ["Phase", "Raw material", "%"],
        ["A", "Purified water", 90],
        ["A", "Vegetable glycerin", 5],
        [None, "Total", 100],
    ]
    plan = planned(xlsx({"X": rows}), FILES)
    assert unclear(plan) == ["X!C4: the sheet's total is 100, its rows add up to 95"]


HIDDEN: Any = [
    ["Phase", "Raw material", "%"],
    ["A", "Purified water", 95],
    ["A", "Vegetable glycerin", 5],
    ["A", "Shea butter", 7],
]


@pytest.mark.parametrize("look", [{"X!A4": "hidden"}, {"X!B4": "struck"}])
def test_a_hidden_row_that_the_total_proves_to_be_old_is_left(look: dict[str, str]) -> None:
    plan = planned(xlsx({"X": HIDDEN}, look=look), FILES)
    assert charges(data_of(plan)["x.toml"]) == {"A": {"water": "95.00", "glycerin": "5.00"}}
    assert any("Shea butter" in one.words for one in plan.outcomes[0].left)


def test_a_hidden_row_is_asked_about_where_nothing_proves_it() -> None:
    rows = [row if row[1] != "Purified water" else ["A", "Purified water", "to 100"] for row in HIDDEN]
    book = xlsx({"X": rows}, look={"X!A4": "hidden"})
    plan = planned(book, FILES)
    assert [question.key for question in plan.questions] == ["hidden"]
    assert plan.changes == []
    taken = planned(book, FILES, answers=Answers(told={"hidden": "take"}))
    assert charges(data_of(taken)["x.toml"])["A"]["shea-butter"] == "7.00"
    left = planned(book, FILES, answers=Answers(told={"hidden": "leave"}))
    assert "shea-butter" not in charges(data_of(left)["x.toml"])["A"]


def test_fractions_without_a_format_are_asked_about() -> None:
    rows = [["Phase", "Raw material", "%"], ["A", "Purified water", 0.95], ["A", "Vegetable glycerin", 0.05]]
    book = xlsx({"X": rows})
    plan = planned(book, FILES)
    assert [question.key for question in plan.questions] == ["fractions"]
    assert plan.changes == []
    yes = planned(book, FILES, answers=Answers(told={"fractions": "yes"}))
    assert charges(data_of(yes)["x.toml"]) == {"A": {"water": "95.00", "glycerin": "5.00"}}


def test_a_decimal_sign_that_nothing_decides_is_asked_about() -> None:
    rows = [["Phase", "Raw material", "%"], ["A", "Purified water", "ad 100"], ["A", "Vegetable glycerin", "1,250"]]
    book = xlsx({"X": rows})
    assert [question.key for question in planned(book, FILES).questions] == ["decimal"]
    told = planned(book, FILES, answers=Answers(told={"decimal": ","}))
    assert charges(data_of(told)["x.toml"])["A"]["glycerin"] == "1.25"


def test_masses_become_a_recipe_by_mass() -> None:
    rows = [["Rohstoff", "Menge [g]"], ["Purified water", "ad 1000"], ["Vegetable glycerin", 50]]
    written = data_of(planned(xlsx({"Test": rows}), FILES))["test.toml"]
    assert written["amounts"] == "mass"
    assert charges(written) == {"A": {"water": "to 1000 g", "glycerin": "50 g"}}


def test_two_columns_of_percent_are_asked_about() -> None:
    rows = [["Raw material", "%", "%"], ["Purified water", 95, 90], ["Vegetable glycerin", 5, 10]]
    plan = planned(xlsx({"X": rows}), FILES)
    assert [question.key for question in plan.questions] == ["column.pct"]
    assert plan.changes == []


def test_two_grades_of_one_inci_name_are_asked_about() -> None:
    files = {**FILES, "ingredients/glycerin-86.toml": 'title = "Glycerin 86"\n[substances]\n"Glycerin" = 100\n'}
    rows = [["Raw material", "%"], ["Purified water", "ad 100"], ["Glycerin", 5]]
    plan = planned(xlsx({"X": rows}), files)
    assert [(question.key, question.choices) for question in plan.questions] == [
        ("name:Glycerin", ("glycerin", "glycerin-86"))
    ]
    assert charges(data_of(plan)["x.toml"]) == {"A": {"water": "to 100"}}


def test_a_trade_name_that_is_not_on_file_is_another_grade_and_a_new_file() -> None:
    rows = [
        ["Raw material", "INCI", "CAS", "%", "Function"],
        ["Purified water", "Aqua", None, "ad 100", None],
        ["Glycerol 99.5 BIO", "Glycerin", "56-81-5", 5, "Feuchthaltemittel"],
    ]
    plan = planned(xlsx({"X": rows}), FILES)
    written = data_of(plan)
    assert written["ingredients/glycerol-99-5-bio.toml"] == {"title": "Glycerol 99.5 BIO", "functions": ["humectant"]}
    assert [question.key for question in plan.questions] == ["name:Glycerol 99.5 BIO", "single_inci"]
    assert plan.questions[0].choices == ("glycerin", "new")
    answers = Answers(told={"single_inci": "100"}, names={"Glycerol 99.5 BIO": "new"})
    new = planned(xlsx({"X": rows}), FILES, answers=answers)
    assert not new.questions
    told = data_of(new)
    again = {change.path: change.new for change in new.changes if change.path != "import.toml"}
    later = planned(xlsx({"X": rows}), {**FILES, **again}, answers=Answers(names=answers.names))
    assert [change.path for change in later.changes] == ["import.toml"]
    same = planned(xlsx({"X": rows}), FILES, answers=Answers(names={"Glycerol 99.5 BIO": "glycerin"}))
    assert charges(data_of(same)["x.toml"]) == {"A": {"water": "to 100", "glycerin": "5.00"}}
    assert told["ingredients/glycerol-99-5-bio.toml"]["substances"] == {"Glycerin": {"pct": 100, "cas": "56-81-5"}}


def test_a_wrong_cas_number_is_left_out_and_said() -> None:
    rows = [
        ["Raw material", "INCI", "CAS", "%"],
        ["Purified water", "Aqua", None, "ad 100"],
        ["Sweet", "Glycerin", "56-81-4", 5],
    ]
    plan = planned(xlsx({"X": rows}), FILES, answers=Answers(told={"single_inci": "100"}))
    assert data_of(plan)["ingredients/sweet.toml"]["substances"]["Glycerin"]["cas"] == "56-81-5"
    assert any("check digit" in line for line in unclear(plan))


ON_FILE = """\
# the winter one
title   = "Test cream"
product = "hand cream"

[phase.A]
title = "Water"

[phase.A.charge]
water    = "to 100"
glycerin = 5.00        # never more

[phase.B.charge]
sunflower-oil = { pct = 4, note = "cold pressed" }
shea-butter   = 3.00
"""


def test_importing_again_changes_only_what_changed_and_keeps_comments() -> None:
    plan = planned(xlsx({"Sheet1": ENGLISH}), {**FILES, "test-cream.toml": ON_FILE})
    (change,) = plan.changes
    assert change.new == ON_FILE.replace("pct = 4,", "pct = 4.25,") + "\n[phase.C.charge]\nsodium-benzoate = 0.40\n"
    again = planned(xlsx({"Sheet1": ENGLISH}), {**FILES, "test-cream.toml": change.new})
    assert again.changes == []


def test_a_material_that_left_the_sheet_leaves_the_recipe() -> None:
    rows: list[Any] = [row for row in ENGLISH if "Shea butter" not in row]
    plan = planned(xlsx({"Sheet1": rows[:-1]}), {**FILES, "test-cream.toml": ON_FILE})
    assert "shea-butter" not in plan.changes[0].new
    assert any("B/shea-butter goes" in one.words for one in plan.outcomes[0].taken)


def test_answers_are_remembered_by_the_heads() -> None:
    rows = [["Raw material", "%"], ["Purified water", 0.95], ["Vegetable glycerin", 0.05]]
    plan = planned(xlsx({"X": rows}), FILES, answers=Answers(told={"fractions": "yes"}, names={"Water": "water"}))
    assert data_of(plan)["import.toml"] == {
        "names": {"Water": "water"},
        "table": [{"heads": "raw material; %", "fractions": "yes"}],
    }


def test_phases_as_letters_in_the_column_of_numbers() -> None:
    rows = [
        ["Pos.", "Rohstoff", "Gew.-%", "Menge (g)"],
        ["A", "Wasserphase", None, None],
        [1, "Purified water", "ad 100", "ad 1000"],
        ["B", "Fettphase", None, None],
        [2, "Shea butter", 3, 30],
    ]
    plan = planned(xlsx({"Milch": rows}), FILES)
    data = data_of(plan)["milch.toml"]
    assert charges(data) == {"A": {"water": "to 100"}, "B": {"shea-butter": "3.00"}}
    assert [phase["title"] for phase in data["phase"].values()] == ["Wasserphase", "Fettphase"]
    assert [one.words for one in plan.outcomes[0].left] == ["column 'Menge (g)': the percentages are taken"]


def test_phases_in_words_find_their_letters_again() -> None:
    rows = [["Phase", "Raw material", "%"], ["Water phase", "Purified water", 97], ["Oils", "Shea butter", 3]]
    book = xlsx({"Milk": rows})
    (change,) = planned(book, FILES).changes
    assert '[phase.B]\ntitle = "Oils"' in change.new
    assert planned(book, {**FILES, "milk.toml": change.new}).changes == []


def test_a_hidden_column_is_left_and_said() -> None:
    import io

    import openpyxl

    rows = [["Raw material", "%", "%"], ["Purified water", 90, 95], ["Vegetable glycerin", 10, 5]]
    book = openpyxl.load_workbook(io.BytesIO(xlsx({"X": rows})))
    book["X"].column_dimensions["B"].hidden = True
    data = io.BytesIO()
    book.save(data)
    plan = planned(data.getvalue(), FILES)
    assert charges(data_of(plan)["x.toml"]) == {"A": {"water": "95.00", "glycerin": "5.00"}}
    assert [one.words for one in plan.left] == ["hidden columns are left: B"]


def test_a_hidden_sheet_is_left_and_can_be_asked_for() -> None:
    book = xlsx(
        {"Now": ENGLISH, "Old": [["Raw material", "%"], ["Purified water", 100]]}, look={"Old!A1": "sheet hidden"}
    )
    plan = planned(book, FILES)
    assert [change.path for change in plan.changes] == ["test-cream.toml"]
    assert [one.place for one in plan.left] == ["book.xlsx: Old"]
    assert [change.path for change in planned(book, FILES, answers=Answers(sheets=("Old",))).changes] == ["old.toml"]


def test_a_book_of_formulas_with_a_sheet_of_instructions() -> None:
    book = xlsx(
        {"Lea esto": [["Instrucciones"], ["Rellene las hojas"]], "Test cream": ENGLISH[2:], "Otra": ENGLISH[2:]}
    )
    plan = planned(book, FILES)
    assert sorted(change.path for change in plan.changes) == ["otra.toml", "test-cream.toml"]
    assert [one.place for one in plan.left] == ["book.xlsx: Lea esto"]


HEADS = {
    "name": "Raw material|Trade name / INCI|Rohstoff/Raw material|Name des Rohstoffs|Nom de la matière première|"
    "Nombre de la materia prima|Nome della materia prima|Rohstoff-Bezeichnung|Bezeichnung (INCI)",
    "inci": "INCI|INCI (EU)|Nombre INCI|Denominazione INCI|INCI-Bezeichnung|Nom INCI",
    "pct": "%|% (w/w)|Conc. (%)|%-Anteil|Anteil (Gew.-%)|Menge [Gew.%]|Menge in %|Quantité (%)|% en masse|% (p/p)|"
    "Cant. %|Q.tà (%)|Percentuale (%)|Concentration (% w/w)|Gehalt (ppm)",
    "inci_pct": "% in raw material|Anteil im Rohstoff (%)|% INCI|% dans la matière première",
    "amount": "Menge (g)|Weight (g)|Peso (g)|Charge (g)|kg",
    "lot": "Charge|Lot-Nr.|N° de lot|N. lotto",
    "cas": "CAS|CAS #|N.º CAS|CAS-Nummer|Numero CAS",
    "price": "Price/kg|Preis €/kg netto|Prix unitaire (€/kg)|Prezzo al kg (€)|Precio por kg (EUR)|€/kg",
    "density": "Density (g/mL)|Dichte (20 °C)|Densité à 20 °C|Densidad|Densità",
    "natural_origin": "NOI|N.O.I.|Natural Origin Index (ISO 16128)",
    "": "Day cream (%)|V1 %|Phase A|Glycerin 86 %|Sodium Benzoate|Worked out (%)|Sonstiges",
}


@pytest.mark.parametrize(("role", "head"), [(role, head) for role, heads in HEADS.items() for head in heads.split("|")])
def test_heads_as_labs_write_them(role: str, head: str) -> None:
    from formula_vcs.sheets.header_words import header_of

    found = header_of(head)
    assert (found.role if found is not None else "") == role


def test_a_heading_with_the_sum_of_its_phase_is_a_heading() -> None:
    rows = [
        ["SCHEDA FORMULA"],
        ["Materia prima", "% p/p"],
        ["FASE A", 95],
        ["Purified water", 95],
        ["FASE B", 5],
        ["Shea butter", 5],
    ]
    (change,) = planned(xlsx({"Crema": rows}), FILES).changes
    assert change.path == "crema.toml"
    assert charges(data_of(planned(xlsx({"Crema": rows}), FILES))["crema.toml"]) == {
        "A": {"water": "95.00"},
        "B": {"shea-butter": "5.00"},
    }


def test_ppm_in_a_formula_are_no_percent() -> None:
    rows = [["Phase", "Raw material", "Gehalt (ppm)"], ["A", "Sodium benzoate", 4000], ["A", "Purified water", 996000]]
    assert charges(data_of(planned(xlsx({"X": rows}), FILES))["x.toml"])["A"]["sodium-benzoate"] == "0.40"
