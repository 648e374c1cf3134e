"""Heads and feet of printed pages: no text of a file gets out of its string."""

from __future__ import annotations

import re

import pytest

from formula_vcs.reports.page.paper import head_and_foot


@pytest.mark.parametrize(
    "name",
    [
        '"; } body { display: none } @page { content: "',
        "</style><script>alert(1)</script>",
        "a\\\nb\u202e\x07",
        "\U0001f9f4",
    ],
)
def test_no_name_ends_the_string(name: str) -> None:
    plain, evil = head_and_foot(1, "a"), head_and_foot(1, name)

    strings = re.compile(r'"(?:[A-Za-z0-9 ]|\\[0-9a-f]{1,6} )*"')
    assert strings.sub('""', plain) == strings.sub('""', evil)
    assert "</style" not in evil


def test_a_long_name_is_cut() -> None:
    assert len(head_and_foot(1, "x" * 10_000)) < 1_000
