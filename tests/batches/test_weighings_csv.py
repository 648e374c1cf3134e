"""Tables of weighings as scales export them, and what is wrong with some."""

from __future__ import annotations

import pytest

from formula_vcs.batches.weighings_csv import read_weighings


def rows(data: bytes) -> list[tuple[str, str, str]]:
    table = read_weighings(data)
    assert () == table.problems
    return [(row.charge, str(row.weighed), row.lot) for row in table.rows]


def problems(data: bytes) -> list[tuple[int, str]]:
    return [(problem.line, problem.message) for problem in read_weighings(data).problems]


@pytest.mark.parametrize(
    "data",
    [
        b"charge,weighed,unit,lot\nwater,12.5,kg,w1\n",
        b"Charge;Weighed;Unit;Lot\r\nwater;12,5;kg;w1\r\n",
        b"\xef\xbb\xbfMATERIAL\tNet (kg)\tLot No.\nwater\t12.5\tw1\n",
        b"item|net_weight_kg|lot number\nwater|12.5|w1\n",
        b"lot,unit,net weight,name\nw1,kg,12.5,water\n",
        b"ingredient,weight,lot\nwater,12.5 kg,w1\n",
        b"sep=;\ncharge;weighed;unit;lot\nwater;12,5;kg;w1;\n",
        b"Terminal 4, export of 4 March\n\ncharge,weighed,unit,lot\n\nwater,12.5,kg,w1\n",
        b'"charge","weighed","unit","lot"\n"water","12.5","kg","w1"\n',
        "charge;weighed;unit;lot\nwater;12,5;kg;w1\n".encode("utf-16"),
        b"charge,weighed,unit,lot,note\nwater,+12.5,kg,w1,\xe9t\xe9\n",
    ],
)
def test_the_same_weighing_in_many_dresses(data: bytes) -> None:
    assert [("water", "12.5 kg", "w1")] == rows(data)


@pytest.mark.parametrize(
    ("cells", "numbers"),
    [
        (["1.234,5", "12,25"], ["1234.5 g", "12.25 g"]),
        (["1,234.5", "0.375"], ["1234.5 g", "0.375 g"]),
        (["1 234,5"], ["1234.5 g"]),
        (["1.251", "12,5"], ["1251 g", "12.5 g"]),
        (["1.250"], ["1.250 g"]),
        (["0,375"], ["0.375 g"]),
        (["1'250.5"], ["1250.5 g"]),
    ],
)
def test_decimal_marks(cells: list[str], numbers: list[str]) -> None:
    data = "charge;net (g)\n" + "".join(f"c{n};{cell}\n" for n, cell in enumerate(cells))

    assert numbers == [number for _, number, _ in rows(data.encode())]


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (b"", 0, "no line names the columns"),
        (b"charge,weighed,unit\n", 0, "holds no weighing"),
        (b"water,12.5,kg\n", 0, "no line names the columns"),
        (b"charge,weighed\nwater,12.5\n", 2, "has no unit"),
        (b"charge,weighed,unit\nwater,12.5,kgs\n", 2, "kgs"),
        (b"charge,weighed,unit\nwater,12.5,mL\n", 2, "a mass"),
        (b"charge,weighed,unit\nwater,-12.5,kg\n", 2, "negative"),
        (b"charge,weighed,unit\nwater,,kg\n", 2, "nothing is written as its mass"),
        (b"charge,weighed,unit\nwater,heavy,kg\n", 2, "is no mass"),
        (b"charge,weighed,unit\n,12.5,kg\n", 2, "does not say what was weighed"),
        (b"charge,weighed,unit,lot\nwater,12.5,kg,a\noil,1", 3, "is the file cut off"),
        (b'charge,weighed,unit\nwater,12.5,kg\n"oil,1.5,kg\n', 3, "is a quote open"),
        (b"charge,weighed,unit\nwater,12.5,kg\nwater,12.5,kg\n", 3, "repeats line 2 word for word"),
        (b"charge,weighed,net,unit\nwater,1,2,kg\n", 1, "two columns say 'weighed'"),
        (b"charge,weighed,unit\nwater,12.5 g,kg\n", 2, "says g, and its column says kg"),
        (b"charge;weighed;unit\nwater;12,5;kg\noil;1.25;kg\n", 2, "read in two ways"),
        (b"charge;weighed;unit\nwater;1.2.3;kg\n", 2, "read in two ways"),
        (b"charge,weighed,unit\nwater,1e5,kg\n", 2, "is no mass"),
        (b"charge\x00weighed", 0, "is binary"),
        (b"\xff\xfec", 0, "UTF-16"),
        (b"x" * 3_000_000, 0, "more than 2 MB"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(data: bytes, line: int, words: str) -> None:
    found = problems(data)

    assert found, data
    assert line == found[0][0], found
    assert words in found[0][1], found


def test_a_bad_row_does_not_hide_the_others() -> None:
    table = read_weighings(b"charge,weighed,unit\nwater,x,kg\noil,1.5,kg\n")

    assert ["oil"] == [row.charge for row in table.rows]
    assert [(2, "water")] == [(problem.line, problem.charge) for problem in table.problems]


def test_what_the_other_columns_say_is_kept() -> None:
    data = b"charge,weighed,unit,timestamp,scale,operator,step,phase\nwater,1,kg,2026-03-04T09:30,b,Una,rinse,A\n"
    row = read_weighings(data).rows[0]

    assert ("2026-03-04T09:30", "b", "Una", "rinse", "A") == (row.at, row.balance, row.by, row.step, row.phase)


@pytest.mark.parametrize(
    ("data", "whole"),
    [
        (b"charge,net (kg)\nwater,9.500\noil,0.4", False),
        (b"charge,net (kg)\nwater,9.500\noil,1.250\nwax,0", False),
        # a table may end without a line break: what is like the others is whole
        (b"charge,net (kg)\nwater,9.500\noil,0.400", True),
        (b"charge,net (kg)\nwater,9.5\noil,1.25\nwax,0.4", True),
        (b"charge,net (kg)\nwater,9.500\noil,0.4\n", True),
        (b"charge,net (g)\nwater,9500\noil,40", True),
    ],
)
def test_a_last_number_that_was_cut_off_is_seen_where_it_can_be(data: bytes, *, whole: bool) -> None:
    table = read_weighings(data)

    assert whole == (not table.problems)


def test_a_last_line_that_is_no_weighing_takes_no_good_line_with_it() -> None:
    """Only the last line of a file can be cut off, and a problem of its own is said there."""
    table = read_weighings(b"charge,net (kg)\nglycerin,1.250\npotassium-sorbate,0.062\nxanthan-gum,heavy")

    assert [2, 3] == [row.line for row in table.rows]
    assert [4] == [problem.line for problem in table.problems]


def test_a_file_of_one_line_that_is_no_weighing() -> None:
    table = read_weighings(b"caprylic-triglyceride|1000 kgcha")

    assert () == table.rows
    assert table.problems
