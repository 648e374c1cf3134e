"""What a text must hold for a pattern to fit: nothing that fits is ever left out."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.chemistry.class_tables import needed_text
from formula_vcs.chemistry.tables import load
from formula_vcs.law.compile_names import kept_inventory
from formula_vcs.model.ingredient import inci_key

ROWS = [(row[0], row[1]) for row in (*load("neutral")["patterns"], *load("charge")["rules"])]


@pytest.mark.parametrize(
    ("pattern", "needed"),
    [
        ("^peg-[0-9]+m?$", ["peg-"]),
        ("acrylates?/", ["acrylate"]),
        ("(ab|cde)f?", ["ab", "cde"]),
        ("(peg|ppg)-[0-9]+", ["eg", "pg"]),
        ("x|[a-z]+", []),
        ("[0-9]*", []),
        ("(abc)*d", ["d"]),
        ("(abc)+d", ["abc"]),
        ("", []),
    ],
)
def test_needed_text(pattern: str, needed: list[str]) -> None:
    assert needed == needed_text(pattern)


def test_no_name_of_the_inventory_is_left_out() -> None:
    names = sorted({inci_key(entry.inci) for entry in kept_inventory()})
    for pattern, needed in ROWS:
        fits = [name for name in names if re.search(pattern, name)]
        if needed:
            assert fits == [name for name in fits if any(text in name for text in needed)], pattern


@pytest.mark.parametrize(("pattern", "needed"), ROWS, ids=[pattern for pattern, _ in ROWS])
def test_no_text_that_fits_is_left_out(pattern: str, needed: list[str]) -> None:
    @given(st.from_regex(pattern))
    def holds(text: str) -> None:
        assert not needed or any(one in text for one in needed)

    holds()
