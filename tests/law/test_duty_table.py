"""The pack of duties is read strictly."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from formula_vcs.law.compile_packs import parsed
from formula_vcs.law.duty_table import read_duties
from formula_vcs.model.facts import unread

SHIPPED = parsed("duties")


def said(change: dict[str, Any]) -> list[str]:
    """Change the first row of the shipped pack and give what is refused."""
    data = copy.deepcopy(SHIPPED)
    data["row"][0].update(change)
    return [f"{'/'.join(path)}: {value.message}" for path, value in unread(read_duties(data))]


def test_the_shipped_pack_is_sound() -> None:
    assert [] == said({})


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"when": "amuont"}, "row/1/when: 'when': 'amuont' is not known; did you mean 'amount'?"),
        ({"above": "5 kg"}, "row/1/above:"),
        ({"above": "5"}, "row/1/above: 'above': the class 'amount' has a share"),
        ({"when": "label"}, "row/1/above: 'above': the class 'label' has no size"),
        ({"repeat": ["stabilty"]}, "row/1/repeat: 'stabilty' is no kind of evidence; did you mean 'stability'?"),
        ({"decide": "stability"}, ""),
        ({"sorce": "x"}, "row/1/sorce: unknown key 'sorce'"),
        ({"id": SHIPPED["row"][1]["id"]}, "row/2/id: two rows are called 'amount-level-3'"),
        ({"checked": "hearsay"}, "row/1/checked: 'checked': 'hearsay' is not known"),
    ],
)
def test_what_is_refused(change: dict[str, Any], expected: str) -> None:
    assert expected in "\n".join(said(change))


def test_a_row_without_consequence_or_source_is_refused() -> None:
    data = copy.deepcopy(SHIPPED)
    del data["row"][0]["decide"], data["row"][0]["source"]

    assert [("row", "1", "source"), ("row", "1", "repeat")] == [path for path, _ in unread(read_duties(data))]


def test_every_kind_of_evidence_has_somebody_who_makes_it() -> None:
    data = copy.deepcopy(SHIPPED)
    del data["kind"]["artwork"]

    assert [("kind", "artwork")] == [path for path, _ in unread(read_duties(data))]
