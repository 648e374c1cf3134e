"""A look-up in a sorted file gives what reading the whole of it would give."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formula_vcs.law.sorted_table import SortedTable, table_text

_CELL = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_characters="#"), max_size=4)
_KEY = st.text(st.sampled_from("abé ζ-~"), min_size=1, max_size=3)
_ROWS = st.lists(st.tuples(_KEY, _CELL), max_size=40)


def _table(folder: Path, rows: list[tuple[str, ...]], heading: tuple[str, ...] = ()) -> SortedTable:
    file = folder / "table.tsv"
    file.write_text(table_text(rows, heading), encoding="utf-8", newline="\n")
    return SortedTable(file)


@given(rows=_ROWS, asked=_KEY, headed=st.booleans())
@settings(max_examples=300)
def test_every_key_is_found_and_no_other(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, ...]], asked: str, headed: bool
) -> None:
    table = _table(tmp_path_factory.mktemp("t"), rows, ("what it is", "of which day") if headed else ())

    for key in {asked, *(key for key, _ in rows)}:
        assert sorted({(cell,) for found, cell in rows if found == key}) == table.rows(key)
    assert sorted({row for row in rows if row[0].startswith(asked)}, key="\t".join) == list(table.starting(asked))
    assert sorted(set(rows), key="\t".join) == list(table)


def test_an_empty_file_and_a_heading_alone_hold_nothing(tmp_path: Path) -> None:
    for heading in ((), ("names", "of one day")):
        table = _table(tmp_path, [], heading)

        assert [] == table.rows("aqua")
        assert [] == list(table)


def test_a_row_keeps_all_its_cells(tmp_path: Path) -> None:
    table = _table(tmp_path, [("aqua", "7732-18-5", "", "solvent"), ("aqua marina", "", "", "")])

    assert [("7732-18-5", "", "solvent")] == table.rows("aqua")
    assert [("aqua marina", "", "", "")] == list(table.starting("aqua m"))


def test_a_look_up_touches_few_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Thirty thousand rows, some twenty of them looked at."""
    table = _table(tmp_path, [(f"name {number:05}", str(number)) for number in range(30_000)])
    seen: list[int] = []
    whole = SortedTable._line

    def counted(self: SortedTable, at: int) -> bytes:
        seen.append(at)
        return whole(self, at)

    monkeypatch.setattr(SortedTable, "_line", counted)

    assert [("17321",)] == table.rows("name 17321")
    assert len(seen) <= 20


@pytest.mark.parametrize("row", [("", "x"), ("# x", "y"), ("a\tb", "y"), ("a", "x\ny"), ("a", "\x00")])
def test_what_would_break_the_file_is_refused(row: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="sorted table"):
        table_text([row])
