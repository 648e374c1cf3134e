"""Bytes to plain data, all syntax errors at once, and where everything stands."""

from __future__ import annotations

import time
import tomllib
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.toml import syntax
from formula_vcs.toml.positions import MOST_ERRORS, first_error
from formula_vcs.toml.syntax import LIMIT, parse, positions

RECIPE = """\
# a cream
title = "Crème"  # the é is two bytes

[phase.A.charge]
water = "to 100"
"sodium \\u0043l" = 0.30
acid = { pct = 0.20, for = "pH", near = [1, { x = 2 }] }

[[step]]
id = "one"
add = ["A",
  "é", { what = "B", share = "80 %" },  # B
]
[step.more]
note = \"\"\"
two
lines\"\"\"
[[step]]
id = "two"
time.least = "8 min"

[phase.A]
title = "Water"
"""


def problems(data: bytes | str) -> list[tuple[int, int, str]]:
    errors = parse(data.encode() if isinstance(data, str) else data).errors
    return [(problem.line, problem.column, problem.message) for problem in errors]


# --- data


def test_data_keeps_digits() -> None:
    """Numbers with a point are decimals with all their digits."""
    parsed = parse(b"a = 0.30\r\nb = 1\r\n")

    assert {"a": Decimal("0.30"), "b": 1} == parsed.data
    assert str(parsed.data["a"]) == "0.30"
    assert parsed.errors == ()
    assert parsed.text == "a = 0.30\r\nb = 1\r\n"


def test_errors_leave_no_data() -> None:
    """A file with an error has no data, so nothing is computed from half of it."""
    assert parse(b"a = 1\nb 2\n").data == {}


# --- problems of bytes


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"a = 1\nb\0", (2, 2, "the file is binary, not text")),
        (b"\xff\xfea\0", (1, 1, "the file is saved as UTF-16; save it as UTF-8")),
        (b"\xef\xbb\xbfa = 1", (1, 1, "the file begins with a byte-order mark; save it as UTF-8 without one")),
        (b'a = "\xc3\xa9\xe9"', (1, 7, "the byte 0xE9 is not UTF-8; save the file as UTF-8")),
        (b"#" * (LIMIT + 1), (1, 1, "the file has more than 2 MB and is not read")),
    ],
)
def test_bytes_that_are_no_text(data: bytes, expected: tuple[int, int, str]) -> None:
    """What is no UTF-8 text is one problem, at its place."""
    assert [expected] == problems(data)


def test_bad_bytes_do_not_hide_other_errors() -> None:
    """A line with a bad byte is reported, and so is an error below it."""
    assert [line for line, *_ in problems(b'a = "\xe9"\nb = 1\nc 2\n')] == [1, 3]


def test_conflict_markers_are_one_problem() -> None:
    """A file with conflicts gets one finding at the first marker."""
    text = "a = 1\n<<<<<<< HEAD\nb = 1\n||||||| base\n=======\nb = 2\n>>>>>>> theirs\nc 3\n"
    message = "git left a conflict here: <<<<<<<; choose between the two sides and remove the markers"

    assert [(2, 1, message)] == problems(text)


def test_line_of_equal_signs_in_a_text_is_no_marker() -> None:
    """A row of = underlines a heading in a note and is no marker."""
    assert problems('note = """\nTitle\n=======\n"""\n') == []


# --- problems of TOML


@pytest.mark.parametrize(
    ("line", "column", "part"),
    [
        ("a = 4,00", 6, "write it with a point"),
        ("a 1", 3, "the = is missing"),
        ("a = 5 %", 7, 'put it in quotes, as in "8 min"'),
        ("a = 8 min", 7, 'put it in quotes, as in "8 min"'),
        ('a = "x', 7, "its last quote is missing in this line"),
        ("a = 'x", 7, "its last quote is missing"),
        ("[a", 3, "the closing ] of the heading is missing"),
        ("[[a]", 4, "the closing ]] of the heading is missing"),
        ("a = [1, 2", 5, "the list that begins here is never closed: ] is missing"),
        ("a = [1 2]", 8, "a comma or the closing ] of the list is missing here"),
        ("a = { b = 1", 12, "a comma or the closing } is missing here"),
        ("a =", 4, "the value is missing"),
        ("a = .5", 5, "write a zero before the point"),
        ("a = 5.", 6, "after the point of a number comes a digit"),
        ("a = 007", 6, "a number does not begin with 0"),
        ("a = True", 5, "write true and false in small letters"),
        ("a = 2026-02-31", 5, "there is no such day"),
        ("a = 2026-13-01", 9, "there is no such day"),
        ("a = water", 5, "put text in quotes"),
        ("é = 1", 1, "put any other name in quotes"),
        ('a = "\\q"', 8, "a backslash in a text is written twice"),
        ("a = { b = 1, b = 2 }", 14, "'b' is written twice in [a]; first at line 1"),
        ("a = 1\rb = 2", 6, "a carriage return stands alone here"),
        ("a.b = 1\na = 2", 6, "this name is written twice, or is taken by a table above"),
    ],
)
def test_toml_error_in_words(line: str, column: int, part: str) -> None:
    """Each slip of the pen is one problem, with its place and in plain words."""
    found = problems(line + "\n")

    assert len(found) == 1
    assert column == found[0][1]
    assert part in found[0][2]


def test_key_twice_names_the_first() -> None:
    """A name given twice is reported at the second, with its table and the line of the first."""
    text = "[phase.A.charge]\nglycerin = 4.0\nwater = 1\nglycerin = 5.0\n"

    assert problems(text) == [(4, 1, "'glycerin' is written twice in [phase.A.charge]; first at line 2")]


def test_key_twice_in_a_step_and_at_the_head() -> None:
    """The step is named by its number, and the head of the file by itself."""
    text = "a = 1\na = 2\n[[step]]\n[[step]]\nid = 1\nid = 2\n"
    found = [message for *_, message in problems(text)]

    assert found == [
        "'a' is written twice in the head of the file; first at line 1",
        "'id' is written twice in [[step]] number 2; first at line 5",
    ]


def test_heading_twice() -> None:
    """A heading given twice is reported once; the pairs below it are not blamed."""
    text = "[phase.A]\ntitle = 'x'\n[phase.B]\n[phase.A]\ntitle = 'y'\n"

    assert problems(text) == [(4, 8, "the heading [phase.A] is written twice; first at line 1")]


ALL_AT_ONCE = """\
title = "x
product "hand"
[phase.A
title = "A"
[phase.B.charge]
glycerin = 4,00
water = "to 100"
glycerin = 5.0
[[step]]
add = ["A"
shear = "high"
time = 8 min
[[step]]
add = [
  "A",
  "B
  "C",
]
shear = "x"
[[step]]
add = ["A", B,
 "C"]
shear = hi
"""


def test_all_errors_in_one_run() -> None:
    """Every broken line is reported once, and no sound line is."""
    assert [line for line, *_ in problems(ALL_AT_ONCE)] == [1, 2, 3, 6, 10, 12, 16, 21, 23]


def test_all_errors_with_crlf() -> None:
    """The lines are the same where lines end with carriage returns."""
    expected = [(line, message) for line, _, message in problems(ALL_AT_ONCE)]

    assert expected == [(line, message) for line, _, message in problems(ALL_AT_ONCE.replace("\n", "\r\n"))]


def test_at_most_twenty() -> None:
    """A file that is no TOML at all is not reported line by line without end."""
    assert len(problems("a b\n" * 1000)) == MOST_ERRORS


def test_unclosed_long_text_is_one_error() -> None:
    """A text of several lines that never ends is one problem, at its beginning."""
    found = problems('a = 1\nb = """x\n' + "".join(f"c{number} = 1\n" for number in range(50)))

    assert found == [(2, 5, "the text that begins here is never closed: its last three quotes are missing")]


def test_long_text_closed_by_the_next_is_one_error() -> None:
    """A text that ends only where the next begins is one problem, at its own beginning."""
    found = problems('a = """x\nb = 1\nc = """\nfoo\n"""\nx = 1\n')

    assert [(line, column) for line, column, _ in found] == [(1, 5)]


def test_later_toml_is_refused() -> None:
    """What only TOML 1.1 allows is refused, whatever this Python's tomllib may read."""
    assert first_error("a = { b = 1,\n c = 2 }\n") is not None
    assert first_error("a = { b = 1, }\n") is not None
    assert first_error('a = "\\e"\n') is not None
    assert first_error(RECIPE) is None
    assert [(line, column) for line, column, *_ in syntax._later_toml("a = { b = 1, }\n")] == [(1, 12)]


HOSTILE = {
    "brackets": "[" * 1_000_000,
    "nested lists": "x = " + "[" * 1_000_000,
    "nested lists over lines": "x = [\n" + "[\n" * 500_000,
    "nested tables": "x = " + "{a=" * 300_000,
    "a long name": "a." * 500_000 + "a = 1",
    "a long heading": "[" + "a." * 500_000 + "a]",
    "a long name with spaces": "a . " * 100_000 + "= 1",
    "a giant list": "x = [" + "1," * 1_000_000 + "]",
    "a long number": "x = " + "1" * 1_000_000,
    "a long hexadecimal number": "x = 0x" + "f" * 1_000_000,
    "a long fraction": "x = 1." + "1" * 1_000_000,
    "a large exponent": "x = 1e" + "9" * 90,
    "many headings": "".join(f"[a{number}.b.c.d.e.f]\n" for number in range(90_000)),
    "many steps": "[[a]]\n" * 340_000,
    "many bad lines": "a b\n" * 500_000,
    "one name, often": "a=1\n" * 500_000,
    "quotes": '"' * 1_000_000,
    "an open text": 'a = """' + '""x' * 500_000,
    "backslashes": 'a = "' + "\\" * 1_000_000,
    "returns": "\r" * 1_000_000,
    "spaces": "a" + " " * 1_000_000 + "x",
    "empty lines": "\n" * 2_000_000,
    "many numbers, almost long": ("1" * 99 + " ") * 20_000,
    "many open lists": "a = [\n" * 300_000,
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_file_ends_soon(text: str) -> None:
    """No file of any kind hangs or crashes the reader; counted in its own seconds, not in a busy machine's."""
    start = time.process_time()
    parse(text.encode())

    assert time.process_time() - start < 6


def test_nested_within_reason() -> None:
    """Depth that a person may write is read; brackets and dots inside texts and comments do not count."""
    text = f'x = {"[" * 20}{"]" * 20}\ny = "{"[" * 200} {"." * 200}"  # {"[." * 200}\n'

    assert parse(text.encode()).errors == ()


@given(st.binary(max_size=200))
def test_any_bytes_end_in_data_or_problems(data: bytes) -> None:
    """Any bytes are read or refused; every problem has a place in the file and a printable message."""
    parsed = parse(data)

    assert all(problem.line >= 1 and problem.column >= 1 for problem in parsed.errors)
    assert all(problem.message.isprintable() for problem in parsed.errors)


@given(st.text(alphabet="ab=.[]{}\"'\n#,1 \\\r\u00e9", max_size=60))
def test_refused_exactly_as_tomllib(text: str) -> None:
    """A text has problems exactly where tomllib refuses it."""
    try:
        tomllib.loads(text)
        sound = True
    except tomllib.TOMLDecodeError:
        sound = False

    assert sound == (not parse(text.encode()).errors)


# --- positions


@pytest.mark.parametrize(
    ("path", "key", "value"),
    [
        (("title",), (2, 1), (2, 9)),
        (("phase", "A", "charge", "water"), (5, 1), (5, 9)),
        (("phase", "A", "charge", "sodium Cl"), (6, 1), (6, 20)),
        (("phase", "A", "charge", "acid", "for"), (7, 22), (7, 28)),
        (("phase", "A", "charge", "acid", "near", 1, "x"), (7, 47), (7, 51)),
        (("step", 0, "add", 0), (11, 8), (11, 8)),
        (("step", 0, "add", 1), (12, 3), (12, 3)),
        (("step", 0, "add", 2, "share"), (12, 22), (12, 30)),
        (("step", 0, "more", "note"), (15, 1), (15, 8)),
        (("step", 0), (9, 3), (9, 3)),
        (("step", 1), (18, 3), (18, 3)),
        (("step", 1, "id"), (19, 1), (19, 6)),
        (("step", 1, "time", "least"), (20, 6), (20, 14)),
        (("phase", "A"), (22, 8), (22, 8)),
        (("phase",), (4, 2), (4, 2)),
        (("step", 2), None, None),
        (("step", 0, "add", 3), None, None),
        (("title", 0), None, None),
    ],
)
def test_positions(path: Any, key: Any, value: Any) -> None:
    """Keys and values stand where an editor shows them, columns counted in characters."""
    found = positions(RECIPE)

    assert key == found.key(path)
    assert value == found.value(path)


def test_column_counts_characters() -> None:
    """A letter of two bytes is one column."""
    assert positions('a = "é", b = 1\n').key(("zz",)) is None
    assert positions('x = { "é" = 1, b = 2 }\n').key(("x", "b")) == (1, 16)


def test_nearest() -> None:
    """What does not exist is shown at what would hold it, and what nothing holds at the head."""
    found = positions(RECIPE)

    assert found.nearest(("step", 1, "time", "most")) == (20, 1)
    assert found.nearest(("step", 1, "shear")) == (18, 3)
    assert found.nearest(("spec", "pH")) == (1, 1)
    assert found.nearest(()) == (1, 1)


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        (("title",), 'title = "Crème"'),
        (("phase", "A", "charge", "acid", "for"), 'for = "pH"'),
        (("step", 0, "add", 2), '{ what = "B", share = "80 %" }'),
        (("step", 1), '[[step]]\nid = "two"\ntime.least = "8 min"'),
        (("step", 0, "more"), '[step.more]\nnote = """\ntwo\nlines"""'),
        (("phase", "A"), '[phase.A]\ntitle = "Water"'),
    ],
)
def test_span(path: Any, expected: str) -> None:
    """A span is the text of a pair, an element or a table's own part, without comments around it."""
    span = positions(RECIPE).span(path)

    assert span is not None
    assert expected == RECIPE[span.start : span.end]
    assert span.start_line == RECIPE.count("\n", 0, span.start) + 1
    assert span.end_line == RECIPE.count("\n", 0, span.end) + 1


def test_span_of_what_has_no_heading() -> None:
    """An array of tables spans from its first heading to the end of its last table."""
    span = positions(RECIPE).span(("step",))

    assert span is not None
    assert RECIPE[span.start : span.end].startswith('[[step]]\nid = "one"')
    assert RECIPE[span.start : span.end].endswith('"8 min"')
    assert positions(RECIPE).span(("spec",)) is None


def test_arrays_in_arrays_of_tables() -> None:
    """Tables below an array of tables belong to its last element."""
    found = positions("[[a]]\n[[a.b]]\n[[a.b]]\nx = 1\n[[a]]\n[a.c]\ny = 2\n[[a.b]]\nx = 3\n")

    assert found.key(("a", 0, "b", 1, "x")) == (4, 1)
    assert found.key(("a", 1, "c", "y")) == (7, 1)
    assert found.key(("a", 1, "b", 0, "x")) == (9, 1)


def test_a_large_file_is_placed_to_its_end() -> None:
    """10,000 lines are no other than ten."""
    step = '[[step]]\nid = "s"\nadd = ["A", "B"]\ntime = "8 min"\n[step.x]\ny = 1.0\n'

    assert positions(step * 1700).key(("step", 1666, "add", 1)) == (9999, 13)


NAMES = st.text(alphabet="ab-_1\u00e9 .\"\\'#=", min_size=1, max_size=4)
PLAIN: st.SearchStrategy[Any] = st.recursive(
    st.integers() | st.booleans() | st.text(alphabet='xy\u00e9\u4e2d#]}"', max_size=4),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3),
    max_leaves=8,
)


def toml(value: Any) -> str:
    """Write plain data in one line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{toml(key)} = {toml(inner)}" for key, inner in value.items()) + "}"
    return str(value)


def paths_of(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """List every path of plain data."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [found for key, below in inner for found in [(*path, key), *paths_of(below, (*path, key))]]


@given(st.dictionaries(NAMES, PLAIN, max_size=4), st.dictionaries(NAMES, st.dictionaries(NAMES, PLAIN, max_size=3)))
def test_every_position_points_at_its_key(head: dict[str, Any], tables: dict[str, dict[str, Any]]) -> None:
    """Every path of the data has a position, at which the key's own text stands."""
    tables = {f"t{name}": pairs for name, pairs in tables.items()}
    lines = [f"{toml(f'h{key}')} = {toml(value)}  # é" for key, value in head.items()]
    for name, pairs in tables.items():
        lines += [f"[{toml(name)}]", *(f"{toml(key)} = {toml(value)}" for key, value in pairs.items())]
    text = "\n".join(lines)
    data = tomllib.loads(text)
    found = positions(text)
    rows = text.split("\n")

    assert set(paths_of(data)) == set(found.paths())
    for path in paths_of(data):
        spot = found.key(path)
        assert spot is not None
        if isinstance(path[-1], str):
            assert rows[spot[0] - 1][spot[1] - 1 :].startswith(toml(path[-1]))
