"""Rates of exchange in workspace.toml, and what is no rate."""

from __future__ import annotations

import pytest

from formula_vcs.model.facts import unread
from formula_vcs.model.workspace import Workspace
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.workspace_file import read_equipment, read_workspace

RATE = '[[rate]]\nof = "USD"\nis = "0.862 EUR"\nday = 2026-05-04\n'


def read(text: str) -> Workspace:
    return Workspace(read_workspace(parse(f'title = "Shed"\n{text}'.encode()).data))


def test_a_rate_is_read_with_its_day() -> None:
    found = read(RATE + RATE.replace("05-04", "06-01") + 'source = "the bank"\nnote = "noon"\n')

    assert [] == list(unread(found.facts))
    assert ["1 USD = 0.862 EUR, rate of 2026-05-04", "1 USD = 0.862 EUR, rate of 2026-06-01"] == [
        *map(str, found.rates)
    ]


@pytest.mark.parametrize(
    ("text", "path", "words"),
    [
        (RATE.replace("day = 2026-05-04\n", ""), "rate/1/day", "'day' is missing in [[rate]]"),
        (RATE.replace("2026-05-04", '"May"'), "rate/1/day", "'day' is text; a date without quotes, 2026-01-05, is"),
        (RATE.replace("USD", "USB"), "rate/1/of", "'USB' is no currency; write its ISO 4217 code"),
        (RATE.replace('"0.862 EUR"', "0.862"), "rate/1/is", 'a sum of money in quotes, "0.862 EUR", is wanted here'),
        (RATE.replace("0.862 EUR", "0.862"), "rate/1/is", "has no unit"),
        (RATE.replace("0.862 EUR", "0.00 EUR"), "rate/1/is", "is nothing"),
        (RATE.replace("0.862 EUR", "0.862 USD"), "rate/1/is", "a rate of USD is stated in another currency"),
        (RATE + RATE.replace("0.862", "0.9"), "rate/2/again", "[[rate]] number 2 is about the same currencies and day"),
        (RATE + '[[rate]]\nof = "EUR"\nis = "1.16 USD"\nday = 2026-05-04\n', "rate/2/again", "number 2 is about"),
        ("rate = 3\n", "rate", "an array of tables, [[rate]], is wanted here"),
        (RATE + 'rat = "x"\n', "rate/1/rat", "unknown key 'rat' in [[rate]]"),
    ],
)  # fmt: skip
def test_what_is_no_rate_says_why(text: str, path: str, words: str) -> None:
    ((where, refused),) = unread(read(text).facts)

    assert path == "/".join(where)
    assert words in refused.message


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("balance", ""),
        ("colloid mill", ""),
        ("Balance", "did you mean 'balance'?"),
        ("banana", "'banana' is not known"),
    ],
)
def test_equipment_is_of_a_kind_that_is_known(kind: str, words: str) -> None:
    found = read_equipment(parse(f'title = "M"\nkind = "{kind}"\n'.encode()).data)

    assert [True] * bool(words) == [words in no.message for _, no in unread(found)]
