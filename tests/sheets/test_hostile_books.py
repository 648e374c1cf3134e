"""Hostile spreadsheets: each ends in one clear line, quickly, and nothing is taken from it."""

from __future__ import annotations

import functools
import io
import time
import zipfile
from collections.abc import Callable

import pytest

from formula_vcs.sheets.grid import SheetTrouble
from formula_vcs.sheets.read_book import read_bytes
from tests.helpers_sheets import ods, planned, unclear, xlsx

GOOD = xlsx({"X": [["Raw material", "%"], ["Purified water", 100]]})
GOOD_ODS = ods({"X": [["Raw material", "%"], ["Purified water", 100]]})
SHEET = "xl/worksheets/sheet1.xml"


def changed(book: bytes, part: str, edit: Callable[[bytes], bytes], more: dict[str, bytes] | None = None) -> bytes:
    """Give a packed spreadsheet with one part changed, and further parts."""
    data = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, edit(old.read(name)) if name == part else old.read(name))
        for name, content in (more or {}).items():
            new.writestr(name, content)
    return data.getvalue()


@functools.cache
def bomb() -> bytes:
    return changed(GOOD, SHEET, lambda text: text.replace(b"</sheetData>", b" " * 30_000_000 + b"</sheetData>"))


def entities(text: bytes) -> bytes:
    head = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b SYSTEM "file:///etc/passwd">]>'
    return text.replace(b"<worksheet", head + b"<worksheet", 1).replace(b"Purified", b"&b;")


def entities_ods(text: bytes) -> bytes:
    return text.replace(b"<office:document", b"<!DOCTYPE x [<!ENTITY a 'b'>]><office:document", 1)


def ten_million(text: bytes) -> bytes:
    return text.replace(b"</sheetData>", b'<row r="10000000"><c r="A10000000"><v>1</v></c></row></sheetData>')


def far_cell(text: bytes) -> bytes:
    return text.replace(b"</sheetData>", b'<row r="4"><c r="XFD4"><v>1</v></c></row></sheetData>')


def giant_merge(text: bytes) -> bytes:
    return text.replace(b"</sheetData>", b'</sheetData><mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>')


def many_cells(text: bytes) -> bytes:
    return text.replace(
        b"</sheetData>", b"".join(b"<c><v>%d</v></c>" % (n * n) for n in range(400_100)) + b"</sheetData>"
    )


def repeated_rows(text: bytes) -> bytes:
    return text.replace(b"<table:table-row>", b'<table:table-row table:number-rows-repeated="10000000">')


def twice() -> bytes:
    data = io.BytesIO(GOOD)
    with zipfile.ZipFile(data, "a") as packed, pytest.warns(UserWarning, match="Duplicate name"):
        packed.writestr(SHEET, b"<worksheet/>")
    return data.getvalue()


def zipped(parts: dict[str, bytes]) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return data.getvalue()


HOSTILE: dict[str, tuple[Callable[[], bytes], str]] = {
    "zip bomb": (bomb, "a zip bomb?"),
    "entities": (lambda: changed(GOOD, SHEET, entities), "declares XML entities"),
    "entities, OpenDocument": (lambda: changed(GOOD_ODS, "content.xml", entities_ods), "declares XML entities"),
    "ten million rows": (lambda: changed(GOOD, SHEET, ten_million), "goes down to row 10,000,000"),
    "ten million rows, OpenDocument": (lambda: changed(GOOD_ODS, "content.xml", repeated_rows), "10,000,000 times"),
    "a cell far out": (lambda: changed(GOOD, SHEET, far_cell), "cell XFD4"),
    "a giant merged area": (lambda: changed(GOOD, SHEET, giant_merge), "merges A1:XFD1048576"),
    "too many cells": (lambda: changed(GOOD, SHEET, many_cells), "over 400,000 cells"),
    "a part twice": (twice, "two parts of one name"),
    "broken XML": (lambda: changed(GOOD, SHEET, lambda text: text[: len(text) // 2]), "that can be read"),
    "broken zip": (lambda: GOOD[: len(GOOD) // 2], "damaged"),
    "a zip of something else": (lambda: zipped({"a.txt": b"hello"}), "no Excel workbook"),
    "an old Excel file that is none": (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "that can be read"),
    "zero bytes": (lambda: b"a;b\0c", "zero bytes"),
    "nothing": (lambda: b"  \n", "is empty"),
    "a row of a million cells": (lambda: b"a;" * 1_000_000, "over 1,000 cells"),
    "sixty thousand rows": (lambda: b"a;1\n" * 60_000, "goes down to row 60,000"),
    "an endless quoted field": (lambda: b'"' + b"a" * 200_000, "no table that can be read"),
    "UTF-16 cut in two": (lambda: b"\xff\xfea\x00b", "broken UTF-16"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_book_ends_in_one_line(name: str) -> None:
    make, words = HOSTILE[name]
    data = make()
    begun = time.process_time()
    with pytest.raises(SheetTrouble) as trouble:
        read_bytes(data, "x")
    assert words in str(trouble.value)
    assert "\n" not in str(trouble.value)
    assert time.process_time() - begun < 10


def test_a_size_that_lies_is_counted_while_it_is_unpacked() -> None:
    book = bytearray(bomb())
    at = book.rfind(SHEET.encode()) - 46  # the directory's entry of the part: size at 24
    book[at + 24 : at + 28] = (1000).to_bytes(4, "little")
    with pytest.raises(SheetTrouble):
        read_bytes(bytes(book), "x")


def test_macros_and_links_are_said_and_left_alone() -> None:
    more = {"xl/vbaProject.bin": b"MZ", "xl/externalLinks/externalLink1.xml": b"<externalLink/>"}
    plan = planned(changed(GOOD, "", bytes, more))
    assert [note.split(";")[0] for note in plan.notes] == ["book.xlsx holds macros", "book.xlsx links to other files"]


def test_a_formula_that_was_never_worked_out_has_no_value() -> None:
    rows = [["Raw material", "%"], ["Purified water", "=100-B3"], ["Vegetable glycerin", 5]]
    plan = planned(xlsx({"X": rows}))
    (found,) = (line for line in unclear(plan) if line.startswith("X!B2"))
    assert found.startswith("X!B2: 'Purified water': the amount is a formula without a value")


def test_an_error_is_no_value() -> None:
    def edit(text: bytes) -> bytes:
        return text.replace(b'<c r="B2" t="n"><v>100</v></c>', b'<c r="B2" t="e"><v>#N/A</v></c>')

    plan = planned(changed(GOOD, SHEET, edit))
    assert any("an error, #N/A" in line for line in unclear(plan))


def test_texts_that_mean_something_to_a_terminal_or_to_toml_stay_texts() -> None:
    name = 'Gum "A"\x1b[31m \\ {x} # = ]\u202e'
    rows = [["Raw material", "INCI", "%"], [name.replace("\x1b", ""), "Xanthan Gum", 100]]
    (change, recipe) = sorted(planned(xlsx({"X": rows})).changes, key=lambda c: "/" not in c.path)
    assert change.path == "ingredients/gum-a-31m-x.toml"
    from formula_vcs.toml.syntax import parse

    assert parse(change.new.encode()).data["title"] == name.replace("\x1b", "")
    assert recipe.path == "x.toml"


@pytest.mark.parametrize("title", ["../../etc/passwd", "CON", ".git/hooks/x", "a/b", "\u202e", "", "   ", "x" * 5000])
def test_no_name_leads_out_of_the_workspace(title: str) -> None:
    rows = [["Formula", "Raw material", "%"], [title, "../up", 50], [title, "/root", 50]]
    plan = planned(xlsx({"X": rows}))
    for change in plan.changes:
        parts = change.path.removesuffix(".toml").split("/")
        assert parts[0] == "ingredients" or len(parts) == 1
        assert all(part and part.replace("-", "").isalnum() and len(part) <= 70 for part in parts)


def test_a_list_of_endless_new_materials_is_refused() -> None:
    from formula_vcs.toml.facts_to_toml import CannotWrite
    from tests.helpers_sheets import csv_text

    rows = [["Trade name", "Supplier"], *[[f"Dust {number}", "Moon"] for number in range(5_001)]]
    with pytest.raises(CannotWrite, match="over 5,000 new files"):
        planned(csv_text(rows), name="x.csv")
