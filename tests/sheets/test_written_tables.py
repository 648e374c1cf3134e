"""What we write, read by other libraries: numbers are numbers, texts are texts, nothing is a formula."""

from __future__ import annotations

import datetime
import io
import zipfile
from decimal import Decimal

import openpyxl
import pytest
import python_calamine

from formula_vcs.figures.figure import Terms
from formula_vcs.sheets.answers import Answers
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.export_recipes import comparison_tables, material_tables, portfolio_table, weighing_tables
from formula_vcs.sheets.import_plan import plan_import
from formula_vcs.sheets.read_book import read_bytes
from formula_vcs.sheets.write_tables import SheetTable, separated, workbook
from tests.helpers_sheets import workspace

INJECTED = ("=cmd|' /C calc'!A0", "+1", "-1", "@SUM(A1)", "\t=1", "\uff1d1", "http://example.org/", "12")
TABLE = SheetTable(
    "Test",
    ("Name", "Price (EUR/kg)", "Valid from"),
    [(text, Decimal("0.1"), datetime.date(2026, 5, 4)) for text in INJECTED],
)
FILES = {
    "ingredients/water.toml": 'title = "Water"\n[substances]\nAqua = 100\n[[price]]\ncost = "1.00 EUR/kg"\n',
    "ingredients/gum.toml": 'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n[[price]]\ncost = "15.00 EUR/kg"\n',
    "gel.toml": 'title = "Gel"\nproduct = "gel"\n[phase.A.charge]\nwater = "to 100"\ngum = 0.7\n',
    "old-gel.toml": 'title = "Gel"\nproduct = "gel"\n[phase.A.charge]\nwater = "to 100"\ngum = 0.5\n',
    "batches/b-1.toml": (
        'recipe = "gel"\ncommit = "3f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13f2c9"\nhash = "00"\nsize = "1 kg"\n'
        'date = 2026-03-04\n[phase.A.charge]\nwater = { target = "993 g", weighed = "0.9931 kg", lot = "W" }\n'
        'gum = { target = "7 g" }\n'
    ),
}
DAY = Terms(datetime.date(2026, 6, 1))


def test_a_second_reader_sees_texts_numbers_and_days() -> None:
    sheet = python_calamine.load_workbook(io.BytesIO(workbook([TABLE]))).get_sheet_by_name("Test")
    heads, *rows = sheet.to_python()
    assert heads == list(TABLE.heads)
    assert [row[1:] for row in rows] == [[0.1, datetime.date(2026, 5, 4)]] * len(INJECTED)
    assert [row[0] for row in rows] == [text if text != "\t=1" else "\\x09=1" for text in INJECTED]


def test_nothing_in_a_workbook_is_a_formula_a_link_or_a_macro() -> None:
    data = workbook([TABLE])
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Test"]
    assert {cell.data_type for row in sheet.iter_rows(min_row=2) for cell in row} == {"s", "n", "d"}
    assert sheet.freeze_panes == "A2"
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        assert not [name for name in packed.namelist() if "vba" in name or "external" in name]
        assert b"<f>" not in packed.read("xl/worksheets/sheet1.xml")
        assert b"hyperlink" not in packed.read("xl/worksheets/sheet1.xml")


def test_no_value_of_a_table_of_text_begins_a_formula() -> None:
    lines = separated(TABLE).decode("utf-8-sig").split("\r\n")[1:-1]
    assert [line[:2] for line in lines[:4]] == ["'=", "'+", "'-", "'@"]
    assert lines[5].startswith("'\uff1d")


@pytest.mark.parametrize(("decimal", "line"), [(".", "Öl,0.05,2026-05-04"), (",", "Öl;0,05;2026-05-04")])
def test_separated_values_with_either_sign(decimal: str, line: str) -> None:
    table = SheetTable("T", ("Name", "%", "Day"), [("Öl", Decimal("0.05"), datetime.date(2026, 5, 4))])
    data = separated(table, decimal)
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.decode("utf-8-sig").split("\r\n")[1] == line


def test_a_portfolio_has_a_row_a_recipe_with_figures_and_findings() -> None:
    table = portfolio_table(workspace(FILES), DAY)
    row = dict(zip(table.heads, table.rows[0], strict=True))
    assert row["Recipe id"] == "gel"
    assert row["Cost per kg (EUR/kg)"] == Decimal("1.098")  # 0.993 + 0.007 * 15
    assert row["Findings that block"] == 0
    assert "natural: water" in str(row["Not known"])


def test_two_versions_stand_side_by_side() -> None:
    snapshot = workspace(FILES)
    formulas = {}
    for name in ("old-gel", "gel"):
        recipe = snapshot.recipe(name)
        assert recipe is not None
        formulas[name] = snapshot.formula(recipe)
    charges, figures = comparison_tables(("v1", formulas["old-gel"]), ("v2", formulas["gel"]), DAY)
    assert charges.heads[3:] == ("% in v1", "% in v2", "Change (percentage points)")
    assert [row[1:] for row in charges.rows] == [
        ("water", "Water", Decimal("99.5"), Decimal("99.3"), Decimal("-0.2")),
        ("gum", "Gum", Decimal("0.5"), Decimal("0.7"), Decimal("0.2")),
    ]
    cost = next(row for row in figures.rows if row[0] == "cost per kg")
    assert cost[1:5] == ("EUR/kg", Decimal("1.07"), Decimal("1.098"), Decimal("0.028"))


def test_overviews_are_for_reading_only() -> None:
    snapshot = workspace(FILES)
    recipe = snapshot.recipe("gel")
    assert recipe is not None
    formula = snapshot.formula(recipe)
    tables = [portfolio_table(snapshot, DAY), *comparison_tables(("a", formula), ("b", formula), DAY)]
    plan = plan_import([read_bytes(workbook(tables), "x.xlsx")], snapshot, Answers())
    assert plan.changes == []
    assert not plan.questions
    assert [said.place for said in plan.left] == ["x.xlsx: Portfolio", "x.xlsx: Charges", "x.xlsx: Figures"]


def test_a_weigh_sheet_comes_back_as_the_weighings_of_its_batch() -> None:
    snapshot = workspace(FILES)
    (table,) = weighing_tables(snapshot, ["b-1"])
    assert table.rows[0] == ("A", "water", "Water", None, Decimal(993), Decimal("993.1"), "W")
    (weighings,) = plan_import([read_bytes(workbook([table]), "w.xlsx")], snapshot, Answers()).weighings
    assert weighings.batch == "b-1"
    assert weighings.table.decode().splitlines()[1:] == ["water;993.1;g;W;;;A;"]


def test_a_changed_cell_is_the_one_change() -> None:
    snapshot = workspace(FILES)
    tables = material_tables(Draft(snapshot))
    prices = next(table for table in tables if table.name == "Prices")
    changed = separated(prices).replace(b"Gum,15,", b"Gum,16.5,")
    answers = Answers(since=datetime.date(2026, 7, 1))
    (change,) = plan_import([read_bytes(changed, "p.csv")], snapshot, answers).changes
    assert change.path == "ingredients/gum.toml"
    assert change.new == (change.old or "") + '\n[[price]]\ncost  = "16.50 EUR/kg"\nsince = 2026-07-01\n'
