"""TOML put together from its tables is what the reader makes of the whole text, or is left to it."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.toml.syntax import parse, pieces
from formula_vcs.toml.table_cache import Pieces


def whole(text: str) -> dict[str, Any]:
    return tomllib.loads(text, parse_float=Decimal)


SIMPLE = (
    "",
    "a = 1",
    'title = "x"\n\n[a]\nb = 1\n[a.c]\nd = [1, 2]\n[[s]]\nid = "x"\n[[s]]\nid = "y"\n[s.t]\nu = 1.50\n',
    "[a.b.c]\r\nx = 1\r\n[a.b.d]  # more\r\n",
    "[a]\nb = { c = 1 }\n[[a.r]]\n[[a.r]]\nx = 2026-01-05\n",
    "[[a]]\n[[a.b]]\nc = 1\n[[a.b]]\nc = 2\n[[a]]\n[[a.b]]\nc = 3\n",
)
NOT_SIMPLE = (
    "[[b]]\na.c = 1\n [d]\na.e = 1\n",
    'a = """\n[b]\n"""\n',
    "a = [\n[1],\n[2],\n]\n",
    "[a.b]\nx = 1\n[a]\ny = 2\n",
    "[a]\nb.c = 1\n[a.d]\ne = 1\n[ a . f ]\n",
    '["a b"]\nx = 1\n',
)
WRONG = (
    "[a]\nb = 1\n[a]\nc = 1\n",
    "[a]\nb = { c = 1 }\n[a.b.d]\n",
    "[a]\nb.c = 1\n[a.b]\n",
    "a = 1\n[a]\n",
    "a = [{ b = 1 }]\n[[a]]\nb = 2\n",
    "[[a]]\n[a]\n",
    "[a]\n[[a]]\n",
    "[a]\nb = 1\nb = 2\n",
    "[a] # \x01\n",
    "[a] x\n",
    "[a]\nb = 1e999999999999999999999\n",
    "[a",
    "[[a]\n",
)


@pytest.mark.parametrize("text", SIMPLE)
def test_simple_texts_are_put_together(text: str) -> None:
    known = pieces()

    assert whole(text) == known.data(text) == known.data(text)


@pytest.mark.parametrize("text", NOT_SIMPLE)
def test_the_rest_is_read_as_a_whole(text: str) -> None:
    assert pieces().data(text) is None
    assert whole(text) == parse(text.encode(), pieces()).data


@pytest.mark.parametrize("text", WRONG)
def test_a_mistake_is_told_as_ever(text: str) -> None:
    assert pieces().data(text) is None
    assert parse(text.encode()).errors == parse(text.encode(), pieces()).errors != ()


NAMES = st.lists(st.sampled_from(["a", "b", "c"]), min_size=1, max_size=3).map(".".join)
LINES = st.one_of(
    NAMES.map(lambda name: f"[{name}]"),
    NAMES.map(lambda name: f"[[{name}]]"),
    st.tuples(NAMES, st.sampled_from(["1", "2.50", '"x"', "[1, 2]", "{ a = 1 }", "[", "]", '"""', "[{ b = 1 }]"])).map(
        " = ".join
    ),
    st.sampled_from(["# [a]", "", "[1],", "]", "[a] # b", " [b]"]),
)


@given(st.lists(st.lists(LINES, max_size=12).map("\n".join), min_size=1, max_size=3))
def test_it_is_the_readers_own_answer_or_none(texts: list[str]) -> None:
    known: Pieces = pieces()
    for text in texts:
        found = known.data(text)
        assert parse(text.encode()) == parse(text.encode(), known)
        if found is not None:
            assert whole(text) == found
