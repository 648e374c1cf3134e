"""Bringing a consolidation in: small exports, what is read off them, and what is refused."""

from __future__ import annotations

import csv
import gzip
from collections.abc import Mapping
from pathlib import Path

import pytest

from formula_vcs.law import bring_in
from formula_vcs.law.annex_tables import AnnexTables

LINES: Mapping[str, list[dict[str, str]]] = {
    "annex-ii": [
        {"entry": "10", "status": "active", "name_in_law": "Badol; worsol", "use_scope": "all", "cas": "50-00-0",
         "kind": "law", "source": "CosIng 2025"},
        {"entry": "10", "status": "active", "name_in_law": "Badol; worsol", "use_scope": "all", "member": "WORSOL",
         "kind": "cosing-identified", "source": "CosIng 2025"},
        {"entry": "10", "status": "active", "name_in_law": "Badol; worsol", "use_scope": "all", "member": "BADOL HCL",
         "kind": "cosing-identified", "source": "CosIng 2025"},
        {"entry": "9", "status": "deleted", "name_in_law": "Goneol", "source": "S1"},
    ],
    "annex-iii": [
        {"entry": "2", "tier": "a", "status": "active", "name": "Some dye", "product_type": "Hair products",
         "max_concentration": "2 %", "max_value": "2", "max_unit": "%", "source": "S1"},
    ],
    "annex-iii-substances": [{"entry": "2", "name": "SOME DYE", "cas": "108-46-3", "kind": "law"}],
    "annex-iv": [{"entry": "1", "status": "active", "name": "A dye", "ci": "10006", "product_class": "1 all",
                  "source": "S1"}],
    "annex-v": [{"entry": "1", "status": "active", "name": "Keeps", "source": "S1"}],
    "annex-vi": [{"entry": "2", "status": "active", "name": "Shades", "source": "S1"}],
    "annex-iv-v-vi-substances": [{"annex": "IV", "entry": "1", "name": "CI 10006", "kind": "cosing-cas"}],
    "inci-inventory": [
        {"inci": "FORMOL", "cas": "50-00-0"},
        {"inci": "SHARED OIL", "cas": "108-46-3; 56-81-5"},
        {"inci": "SHARED WATER", "cas": "108-46-3"},
    ],
}  # fmt: skip


def _write(folder: Path, lines: Mapping[str, list[dict[str, str]]], packed: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    for name, columns in bring_in.COLUMNS.items():
        file = folder / f"{name}.csv"
        with file.open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, columns, restval="")
            writer.writeheader()
            writer.writerows(lines[name])
        if name == packed:
            (folder / f"{name}.csv.gz").write_bytes(gzip.compress(file.read_bytes()))
            file.unlink()
    return folder


def test_names_are_graded_by_who_says_so(tmp_path: Path) -> None:
    made = bring_in.tables(bring_in.read(_write(tmp_path / "x", LINES, packed="inci-inventory")))

    assert [
        "entry,name,cas,grade",
        "10,,50-00-0,law",
        "10,FORMOL,,inci",  # the only name of the law's number
        "10,WORSOL,,inci",  # identified, and one of the law's own words
        "10,BADOL HCL,,identified",
    ] == made["ii-names.csv"].splitlines()
    assert "2,SHARED WATER,,number" in made["iii-names.csv"]
    assert "9" not in {line.split(",")[0] for line in made["ii.csv"].splitlines()}
    assert "text" == made["iii.csv"].splitlines()[1].rsplit(",", 1)[1]
    assert "data export" == made["ii.csv"].splitlines()[1].rsplit(",", 1)[1]


def test_what_changed_is_counted_by_entry() -> None:
    old, new = "entry,name\n1,a\n2,b\n3,c\n", "entry,name\n1,a\n2,B\n4,d\n"

    assert {"new": 1, "gone": 1, "changed": 1} == bring_in.changed(old, new)


def test_the_command_writes_the_tables(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "annexes"
    target.mkdir()

    assert 0 == bring_in.main([str(_write(tmp_path / "x", LINES))], target)
    assert "ii.csv: 1 entries; 1 new" in capsys.readouterr().out
    assert 0 == bring_in.main([str(tmp_path / "x")], target)
    assert "ii.csv: 1 entries; as before" in capsys.readouterr().out
    assert {"ii.csv", "ii-names.csv", "vi.csv"} <= {file.name for file in target.iterdir()}


@pytest.mark.parametrize(
    ("table", "change", "said"),
    [
        ("annex-ii", {"cas": "50-00-1"}, "annex-ii.csv:2: CAS '50-00-1'"),
        ("annex-ii", {"entry": "ten"}, "annex-ii.csv:2: 'ten' is no entry"),
        ("annex-iii", {"max_value": "2,5"}, "annex-iii.csv:2: max_value '2,5' is no number"),
    ],
)
def test_a_bad_line_is_named_and_nothing_written(
    table: str, change: dict[str, str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = {**LINES, table: [{**LINES[table][0], **change}, *LINES[table][1:]]}
    target = tmp_path / "annexes"
    target.mkdir()

    assert 2 == bring_in.main([str(_write(tmp_path / "x", lines))], target)
    assert said in capsys.readouterr().err
    assert [] == list(target.iterdir())


def test_a_missing_file_and_a_missing_column_are_named(tmp_path: Path) -> None:
    folder = _write(tmp_path / "x", LINES)
    (folder / "annex-v.csv").unlink()
    (folder / "annex-vi.csv").write_text("entry,status\n2,active\n", "utf-8")

    with pytest.raises(bring_in.CannotBringIn) as caught:
        bring_in.read(folder)

    assert "annex-v.csv: there is no such file" in str(caught.value)
    assert "annex-vi.csv:1: no column tier, name" in str(caught.value)


def test_it_says_how_it_is_called(capsys: pytest.CaptureFixture[str]) -> None:
    assert 2 == bring_in.main([])
    assert "bring_in DIR" in capsys.readouterr().err


def test_a_phrase_that_no_reading_knows_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    """A new kind of product in the next consolidation is said to whoever compiles, and asked about in a check."""
    from formula_vcs.law.annex_rows import AnnexRows

    tables = AnnexTables()
    line = {**tables.entries["iii"]["93"][0], "product": "Beards of mermaids"}
    monkeypatch.setitem(tables.entries["iii"], "93", [line])
    rows = AnnexRows(tables, {}, ())
    made = [filed.row for filed in rows if filed.row.id.startswith("eu-iii-93-")]

    assert "Annex III/93: 'Beards of mermaids'" in rows.unread
    assert [("ask", "Beards of mermaids: 1,5 %")] == [(row.kind, row.words) for row in made if "unread" in row.id]
