"""The tables of the United States: brought in whole or not at all, and rows out of them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.law import us_rows
from formula_vcs.law.bring_in_us import COLUMNS, TABLES, brought
from formula_vcs.model.law_row import LawRow

HEAD = "more,substance,cas,cfr,products,condition,evidence\n"


def _rows(pack: str) -> dict[str, LawRow]:
    return {row.id: row for row in us_rows.rows_of(pack)}


def test_a_table_keeps_its_columns_and_says_how_it_was_checked() -> None:
    text = HEAD + 'x,"Mercury,  any",7439-97-6,21 CFR 700.13,all,"trace; 1 ppm",T\n'

    assert brought("prohibited", text) == (
        'substance,cas,cfr,products,condition,checked\n"Mercury, any",7439-97-6,21 CFR 700.13,all,trace; 1 ppm,text\n'
    )


def test_all_that_cannot_be_read_is_said() -> None:
    text = HEAD + "x,A,7439-97-5,c,p,,T\nx,B,,c,p,,X\n"

    with pytest.raises(ValueError, match="7439-97-5") as caught:
        brought("prohibited", text)

    assert "line 3: evidence is 'X', not T or O or P or C or M" in str(caught.value)


def test_a_number_is_a_number() -> None:
    head = ",".join(COLUMNS["otc-actives"])

    with pytest.raises(ValueError, match="max: 'ten' is no number"):
        brought("otc-actives", f"{head}\nacne,A,A,,1,ten,%,,21 CFR 1,T\n")


def test_a_column_that_is_missing() -> None:
    with pytest.raises(ValueError, match="no column cfr, products"):
        brought("prohibited", "substance,cas,condition,evidence\n")


def test_every_line_is_a_row_or_more() -> None:
    """66 colour additives, 16 lines of 21 CFR 700 and 250 (two said by others), 81 lines of the monographs."""
    counts = {name: len((TABLES / f"{name}.csv").read_text("utf-8").splitlines()) - 1 for name in COLUMNS}

    assert {"colour-additives": 66, "prohibited": 16, "otc-actives": 81} == counts
    colours = us_rows.rows_of(us_rows.COLOURS)
    # lead acetate, whose listing was repealed, is the one that is not allowed
    assert 65 == sum(row.kind == "allowed" for row in colours)
    assert 14 == len(us_rows.rows_of(us_rows.PROHIBITED))
    assert 81 == len(us_rows.rows_of(us_rows.ACTIVES))


def test_what_is_from_memory_says_so_and_warns() -> None:
    for pack in us_rows.TITLES:
        for row in us_rows.rows_of(pack):
            assert (row.checked == "memory") == row.note.endswith("from memory") or "CAS" in row.note
            assert row.checked != "memory" or row.severity == "warn"


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("D&C Red No. 6", "Red 6"),
        ("FD&C Yellow No. 5", "Yellow 5"),
        ("Ext. D&C Violet No. 2", "Ext. Violet 2"),
        ("Chromium oxide greens", "Chromium Oxide Greens"),
        ("beta-Carotene", "beta-Carotene"),
    ],
)
def test_a_colour_on_the_label(name: str, printed: str) -> None:
    assert printed == us_rows.label_name(name)


def test_bemotrizinol_has_its_day_and_its_grade() -> None:
    """Final order OTC000039 of June 2026, at most 6 %, in effect 2026-08-09; commentary was read, not the order."""
    row = _rows(us_rows.ACTIVES)["us-352-bemotrizinol"]

    assert ((Fraction(0), Fraction(6)),) == row.windows
    assert "2026-08-09" == str(row.placed.first)
    assert "by commentary, the order itself was not read" == row.note
    assert "M020 [commentary]" == row.source


def test_a_number_of_two_colours_says_once_where_it_may_go() -> None:
    """CI 15850 is D&C Red No. 6 and No. 7; CI 42090 is FD&C Blue No. 1, and D&C Blue No. 4 only by CAS number."""
    rows = us_rows.rows_of(us_rows.COLOURS)

    def speaking(name: str, kind: str) -> list[str]:
        return [row.id for row in rows if row.kind == kind and name in row.spelled]

    assert ["us-colour-dc-red-no-6-uses"] == speaking("CI 15850", "prohibited")
    assert ["us-colour-dc-red-no-6", "us-colour-dc-red-no-7"] == speaking("CI 15850", "allowed")
    assert ["us-colour-fdc-blue-no-1"] == speaking("CI 42090", "allowed")
