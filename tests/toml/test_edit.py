"""Edits of a text that touch nothing else, and writes that survive."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.toml.edit import EditRefused, add_pair, remove, set_value, spelled

RECIPE = """\
# a cream
title = "Cream"  # keep me

[phase.A.charge]
water     = "to 100"
glycerin  = 4.00   # plant
acid      = { pct = 0.20, for = "pH" }

# how
[[step]]
id  = "one"
add = ["A", "B", "C"]
[[step]]
id  = "two"
add = [
  "D",  # first
  "E",  # last
]
[step.more]
x = 1
"""


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (("title",), "Crème", '"Cream"', '"Crème"'),
        (("phase", "A", "charge", "glycerin"), Decimal("0.250"), "4.00", "0.250"),
        (("phase", "A", "charge", "acid", "pct"), Decimal("0.30"), "0.20", "0.30"),
        (("step", 0, "add", 1), "é\n", '"B"', '"é\\n"'),
        (("step", 1, "id"), True, '"two"', "true"),
        (("step", 1, "more", "x"), {"a": [1, Decimal("2.0")]}, "x = 1", "x = { a = [1, 2.0] }"),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_set_value(path: Any, value: Any, old: str, new: str, newline: str) -> None:
    """A value is replaced; comments, layout, line ends and digits stay."""
    text = RECIPE.replace("\n", newline)

    assert text.replace(old, new) == set_value(text, path, value)


@pytest.mark.parametrize("path", [("spec",), ("step", 5, "id"), ("step", 0), ("phase", "A"), ()])
def test_set_value_needs_a_value(path: Any) -> None:
    """What is not there, and what is a table with a heading, cannot be set."""
    with pytest.raises(EditRefused):
        set_value(RECIPE, path, 1)


@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("inf"), None, object()])
def test_set_value_refuses_what_toml_cannot_say(value: Any) -> None:
    """Not-a-number, infinity and Python's own objects are not written."""
    with pytest.raises(EditRefused):
        set_value(RECIPE, ("title",), value)


def test_broken_file_is_not_edited() -> None:
    """A file with errors is left to people."""
    with pytest.raises(EditRefused, match="the first is at line 2"):
        set_value("a = 1\nb 2\n", ("a",), 2)


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        (("title",), 'title = "Cream"  # keep me\n', ""),
        (("phase", "A", "charge", "glycerin"), "glycerin  = 4.00   # plant\n", ""),
        (("phase", "A", "charge", "acid", "pct"), "pct = 0.20, ", ""),
        (("phase", "A", "charge", "acid", "for"), ', for = "pH"', ""),
        (("step", 0, "add", 0), '"A", ', ""),
        (("step", 0, "add", 2), ', "C"', ""),
        (("step", 1, "add", 0), '  "D",  # first\n', ""),
        (("step", 1, "add", 1), '  "E",  # last\n', ""),
        (("step", 0), '[[step]]\nid  = "one"\nadd = ["A", "B", "C"]\n', ""),
        (("step", 1), RECIPE[RECIPE.index('[[step]]\nid  = "two"') :], ""),
        (("step", 1, "more"), "[step.more]\nx = 1\n", ""),
        (("phase", "A", "charge"), RECIPE[RECIPE.index("[phase") : RECIPE.index("\n# how")], ""),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_remove(path: Any, old: str, new: str, newline: str) -> None:
    """What is removed takes its line and its comment along, and nothing else."""
    old, text = old.replace("\n", newline), RECIPE.replace("\n", newline)

    assert text.replace(old, new) == remove(text, path)


def test_remove_needs_something() -> None:
    """What is not there cannot be removed."""
    with pytest.raises(EditRefused):
        remove(RECIPE, ("spec",))
    with pytest.raises(EditRefused):
        remove(RECIPE, ())


@pytest.mark.parametrize(
    ("table", "key", "value", "before", "line"),
    [
        (("phase", "A", "charge"), "oil", Decimal("6.00"), "\n# how", "oil       = 6.00\n"),
        (("phase", "A", "charge"), "a-very-long-name", 1, "\n# how", "a-very-long-name = 1\n"),
        ((), "form", "emulsion", "\n[phase", 'form  = "emulsion"\n'),
        (("step", 0), "time", "8 min", '[[step]]\nid  = "two"', 'time = "8 min"\n'),
        (("step", 1, "more"), "a b", date(2026, 6, 30), "", '"a b" = 2026-06-30\n'),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_add_pair(  # noqa: PLR0917 - a table of cases
    table: Any, key: str, value: Any, before: str, line: str, newline: str
) -> None:
    """A pair comes below the last of its table, with its = under the one above where it fits."""
    at = RECIPE.index(before) if before else len(RECIPE)
    expected = RECIPE[:at] + line + RECIPE[at:]

    assert expected.replace("\n", newline) == add_pair(RECIPE.replace("\n", newline), table, key, value)


def test_add_pair_inline_and_new_table() -> None:
    """An inline table grows in its line; a table without a heading gets one at the end."""
    acid = add_pair(RECIPE, ("phase", "A", "charge", "acid"), "at_most", Decimal("0.40"))

    assert 'acid      = { pct = 0.20, for = "pH", at_most = 0.40 }\n' in acid
    assert add_pair("a = {}", ("a",), "b", 1) == "a = { b = 1 }"
    assert add_pair("a = 1\n", ("spec",), "pH", 5) == "a = 1\n\n[spec]\npH = 5\n"
    assert add_pair("a = 1", ("spec",), "pH", 5) == "a = 1\n\n[spec]\npH = 5\n"
    assert add_pair("", (), "pH", 5) == "pH = 5\n"
    assert add_pair("a = 1", (), "pH", 5) == "a = 1\npH = 5\n"
    assert add_pair("[x]\n", ("x",), "pH", 5) == "[x]\npH = 5\n"
    assert add_pair("[x]\n", (), "pH", 5) == "pH = 5\n[x]\n"


@pytest.mark.parametrize(("table", "key"), [((), "title"), (("title",), "x"), (("step", 7), "x"), (("step",), "x")])
def test_add_pair_refused(table: Any, key: str) -> None:
    """A key that is there, and a table that cannot be, are refused."""
    with pytest.raises(EditRefused):
        add_pair(RECIPE, table, key, 1)


SETTABLE: st.SearchStrategy[Any] = st.recursive(
    st.integers(-(10**18), 10**18)
    | st.booleans()
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
    | st.dates(min_value=date(1000, 1, 1))
    | st.decimals(-1000, 1000, allow_nan=False, places=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text('ab é"\\.', max_size=3), inner, max_size=3),
    max_leaves=6,
)
PLACES = [
    ("title",),
    ("phase", "A", "charge", "acid", "pct"),
    ("step", 0, "add", 1),
    ("step", 1, "add"),
    ("step", 1, "more", "x"),
]


@given(st.sampled_from(PLACES), SETTABLE)
def test_set_then_parse_gives_the_value(path: Any, value: Any) -> None:
    """What was set is what is read back, and the rest of the text is as it was."""
    data: Any = tomllib.loads(set_value(RECIPE, path, value), parse_float=Decimal)
    for part in path:
        data = data[part]

    assert value == data


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12))
def test_digits_stay(value: Decimal) -> None:
    """A decimal is written with its own digits."""
    text = spelled(value)

    assert Decimal(text) == value
    assert "E" not in text


def test_import_is_light() -> None:
    """Importing the module does not import tomlkit."""
    code = (
        "import sys; import formula_vcs.toml.edit; sys.exit('tomlkit' in sys.modules or 'tree_sitter' in sys.modules)"
    )

    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
