"""What figures lack, by ingredient."""

from __future__ import annotations

import pytest

from formula_vcs.figures.missing import MOST_NAMES, by_ingredient

INDICES = ("natural", "natural-origin", "organic", "organic-origin")


def index(name: str, *indices: str) -> list[str]:
    return [f"{name}: no {one} index in [origin]" for one in indices]


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ([], []),
        (["oil: no density"], ["oil: no density"]),
        (["oil: no density", "gum: no density"], ["oil, gum: no density"]),
        (["oil: no density", "gum: no density", "oil: no price"], ["oil: no density; no price", "gum: no density"]),
        (index("oil", *INDICES), ["oil: no [origin]"]),
        ([*index("oil", *INDICES), *index("gum", *INDICES)], ["oil, gum: no [origin]"]),
        (index("oil", "natural", "organic"), ["oil: no natural or organic index in [origin]"]),
        (index("oil", "organic"), ["oil: no organic index in [origin]"]),
        ([*index("oil", *INDICES), "oil: no density"], ["oil: no density; no [origin]"]),
        (["the spec states no pH range"], ["the spec states no pH range"]),
        (["a word of many: colons"], ["a word of many: colons"]),
        (["oil: no density", "oil: no density"], ["oil: no density"]),
    ],
)
def test_what_is_missing_is_said_by_ingredient(facts: list[str], words: list[str]) -> None:
    assert words == [one.words for one in by_ingredient(facts)]


def test_of_very_many_some_are_named() -> None:
    (one,) = by_ingredient(f"m-{number}: no density" for number in range(MOST_NAMES + 3))

    assert one.words.startswith("m-0, m-1, ")
    assert one.words.endswith(" and 3 more: no density")
    assert MOST_NAMES + 3 == len(one.names)
