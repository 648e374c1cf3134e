"""What is exported and imported again changes nothing: over generated workspaces, as a workbook and as values."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formula_vcs.sheets.answers import Answers
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.export_recipes import material_tables, recipe_tables
from formula_vcs.sheets.grid import Book
from formula_vcs.sheets.import_plan import ImportPlan, plan_import
from formula_vcs.sheets.new_file import new_text
from formula_vcs.sheets.read_book import read_bytes
from formula_vcs.sheets.write_tables import SheetTable, separated, workbook
from formula_vcs.workspace.snapshot import Files, Snapshot, WorkTree
from tests.helpers_sheets import WORKSPACE

TRICKY = (
    "::error::x",
    "=1+1", "+49", "-5", "@home", "'=x", "''", "Total", "Summe", "ad 100", "q.s.", "Phase A", "A", "0.05", "1,250",
    "Öl, raffiniert", 'a "quoted" name', "two  blanks", " lead", "line\nbreak", "tab\there", "\u202eturned", "#N/A",
    "1/2", "2026-05-04", "TRUE", "C:\\temp", "a;b|c\td", "Aqua (and) Glycerin", "<0.1", "_x0041_", "=\u00a0x",
)  # fmt: skip
WORDS = st.one_of(
    st.sampled_from(TRICKY), st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), min_size=1, max_size=12)
).filter(lambda text: bool(text.strip()))
IDS = st.from_regex(r"[a-z]{2,6}(-[0-9]{1,2})?", fullmatch=True)
NUMBERS = (
    st.decimals("0.00001", "99", places=5)
    | st.decimals("0.01", "99", places=2)
    | st.just(Decimal("33.33333333333333333"))
)
DAYS = st.dates(datetime.date(1850, 1, 1), datetime.date(2100, 1, 1))
CAS = st.sampled_from(["56-81-5", "7732-18-5", "100-51-6"])


@st.composite
def substances(draw: st.DrawFn) -> dict[str, Any]:
    names = draw(st.lists(WORDS, min_size=1, max_size=3, unique_by=lambda name: " ".join(name.split()).casefold()))
    return {
        name: draw(st.one_of(NUMBERS, st.builds(lambda pct, cas: {"pct": pct, "cas": cas}, NUMBERS, CAS)))
        for name in names
    }


PRICES = st.lists(
    st.tuples(
        st.decimals("0.001", "500", places=3),
        st.sampled_from(["EUR/kg", "USD/lb", "EUR/L"]),
        st.none() | DAYS,
        st.sampled_from(["", "1 kg", "2.500 kg", "25 lb"]),
    ),
    max_size=3,
    unique_by=lambda row: (row[2], row[3]),
)  # fmt: skip


@st.composite
def materials(draw: st.DrawFn) -> dict[str, Any]:
    data: dict[str, Any] = {"title": draw(WORDS)}
    for key in ("supplier", "code"):
        if draw(st.booleans()):
            data[key] = draw(WORDS)
    if draw(st.booleans()):
        data["functions"] = draw(st.lists(WORDS, min_size=1, max_size=2, unique=True))
    if draw(st.booleans()):
        data["density"] = draw(st.sampled_from(["0.998 g/mL", "1.26 kg/L", "913 kg/m^3"]))
    data["substances"] = draw(substances())
    if draw(st.booleans()):
        data["origin"] = {"natural_origin": draw(st.sampled_from([1, Decimal("0.97"), "1/3"]))}
    if draw(st.booleans()):
        data["allergens"] = draw(substances())
    prices = draw(PRICES)
    if prices:
        data["price"] = [
            {"cost": f"{cost} {unit}", **({"from": least} if least else {}), **({"since": since} if since else {})}
            for cost, unit, since, least in prices
        ]
    return data


AMOUNTS = {
    "percent": st.one_of(NUMBERS, st.sampled_from(["to 100", "q.s.", "qs", "Q.S."])),
    "parts": st.one_of(NUMBERS, st.sampled_from(["to 1000", "q.s."])),
    "mass": st.sampled_from(["2 lb", "1.250 kg", "150 grain", "12 g", "5 mL", "to 1000 g", "q.s."]),
}


PHASES = st.one_of(
    st.sampled_from(["A", "B", "a", "Phase A", "1", "Oil phase"]),
    st.text(
        st.characters(codec="utf-8", exclude_characters="/", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=8
    ),
).filter(lambda name: bool(name.strip()))


@st.composite
def recipes(draw: st.DrawFn, ids: Sequence[str]) -> dict[str, Any]:
    mode = draw(st.sampled_from(["percent", "percent", "parts", "mass"]))
    data: dict[str, Any] = {"title": draw(WORDS)}
    if mode != "percent":
        data["amounts"] = mode
    data["phase"] = {}
    for key in draw(st.lists(PHASES, min_size=1, max_size=3, unique_by=lambda name: " ".join(name.split()))):
        phase: dict[str, Any] = {"title": draw(WORDS)} if draw(st.booleans()) else {}
        chosen = draw(st.lists(st.sampled_from([*ids, "not-on-file"]), min_size=1, max_size=3, unique=True))
        phase["charge"] = {name: _charge(draw(AMOUNTS[mode]), mode, draw(st.booleans())) for name in chosen}
        data["phase"][key] = phase
    return data


def _charge(amount: Any, mode: str, braces: bool) -> Any:
    return {"pct" if mode == "percent" else "amount": amount, "note": "as it is"} if braces else amount


@st.composite
def workspaces(draw: st.DrawFn) -> dict[str, str]:
    files = {"workspace.toml": WORKSPACE}
    ids = draw(st.lists(IDS, min_size=1, max_size=4, unique=True))
    for name in ids:
        files[f"ingredients/{name}.toml"] = new_text(draw(materials()))
    for name in draw(st.lists(IDS, min_size=1, max_size=2, unique=True)):
        files[f"{name}.toml"] = new_text(draw(recipes(ids)))
    return files


def as_workbook(tables: list[SheetTable]) -> list[Book]:
    return [read_bytes(workbook(tables), "out.xlsx")]


def as_values(tables: list[SheetTable]) -> list[Book]:
    return [read_bytes(separated(table), f"{table.name}.csv") for table in tables]


def as_german_values(tables: list[SheetTable]) -> list[Book]:
    return [read_bytes(separated(table, ","), f"{table.name}.csv") for table in tables]


WAYS: list[Callable[[list[SheetTable]], list[Book]]] = [as_workbook, as_values, as_german_values]


def imported(files: Snapshot, way: Callable[[list[SheetTable]], list[Book]]) -> ImportPlan:
    draft = Draft(files)
    return plan_import(way([*material_tables(draft), *recipe_tables(draft)]), files, Answers())


@pytest.mark.parametrize("way", WAYS)
@settings(max_examples=60, deadline=None)
@given(files=workspaces())
def test_import_of_an_export_changes_nothing(
    way: Callable[[list[SheetTable]], list[Book]], files: dict[str, str]
) -> None:
    plan = imported(Snapshot(Files(files)), way)
    assert [(change.path, change.old, change.new) for change in plan.changes] == []
    assert plan.questions == []
    assert plan.unclear == 0
    taken = [outcome for outcome in plan.outcomes if outcome.kind == "formulas"]
    assert sum(outcome.rows for outcome in taken) == sum(outcome.same for outcome in taken) > 0


@pytest.mark.parametrize("way", WAYS)
def test_the_demo_comes_back_unchanged(way: Callable[[list[SheetTable]], list[Book]]) -> None:
    from pathlib import Path

    recipes_folder = Path(__file__).resolve().parents[2] / "recipes"
    plan = imported(Snapshot(WorkTree(recipes_folder)), way)
    assert [change.path for change in plan.changes] == []
    assert plan.questions == []
    assert plan.unclear == 0
