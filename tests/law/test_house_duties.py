"""The house's own rows of the table of duties, and its own kinds of evidence."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from formula_vcs.evidence.coverage import DECIDE, REPEAT, crossed
from formula_vcs.evidence.drift.drift import Drift
from formula_vcs.law.duty_table import as_shipped, table_of
from formula_vcs.model.facts import unread
from formula_vcs.rules.law.house import judge_house_duties
from formula_vcs.toml.rules_file import read_rules
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Files, Snapshot

KIND = '[kind.tube-migration]\nowner = "packaging"\nsource = "HS-31"\n'
ROW = (
    '[[duty]]\nid = "tube-solvent"\nwhen = "amount"\nof = ["Solvent"]\nabove = "5 %"\nrepeat = ["tube-migration"]\n'
    'decide = ["stability"]\nsource = "HS-31"\n'
)


def _workspace(*files: str) -> Any:
    texts = {f"rules/house-{number}.toml": text for number, text in enumerate(files, 1)}
    return Snapshot(Files({"workspace.toml": 'title = "Shed"\n', **texts})).workspace


def _said(text: str) -> list[str]:
    return [f"{'/'.join(path)}: {value.message}" for path, value in unread(read_rules(parse(text.encode()).data))]


def _drift(size: str, function: str = "solvent") -> Drift:
    return Drift("amount", "x", "moved", Fraction(size), functions=frozenset({function}))


def test_a_kind_of_the_house_is_known_with_who_makes_it() -> None:
    """What a kind does not say is said plainly; the kinds that ship stay before it."""
    table = table_of(_workspace(KIND + ROW))

    assert (*as_shipped().kinds, "tube-migration") == table.kinds
    assert ("packaging", "HS-31") == (table.work("tube-migration").owner, table.work("tube-migration").source)
    assert "Repeat: tube migration" == table.work("tube-migration").repeat


@pytest.mark.parametrize(
    ("size", "function", "asked"), [("1/20", "solvent", None), ("51/1000", "solvent", REPEAT), ("1", "wax", None)]
)
def test_a_row_of_the_house_outdates_its_kind_beyond_its_line(size: str, function: str, asked: str | None) -> None:
    """At the line it does not, and functions are compared whatever their case."""
    found = crossed(_drift(size, function), "tube-migration", table_of(_workspace(KIND + ROW)))

    assert asked == (found and found[0])


def test_a_row_of_the_house_adds_to_a_kind_that_ships_and_loosens_none() -> None:
    """Of the rows that fit the strictest wins, so a softer one of the house has no effect."""
    table = table_of(_workspace(KIND + ROW))

    assert DECIDE == (crossed(_drift("51/1000"), "stability", table) or ("",))[0]
    assert REPEAT == (crossed(_drift("11/100"), "stability", table) or ("",))[0]


def test_a_workspace_without_such_rows_has_the_table_that_ships() -> None:
    """No house, no difference."""
    assert table_of(_workspace()) is as_shipped()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (ROW.replace('"amount"', '"amuont"'), "duty/tube-solvent/when: 'when': 'amuont' is not known; did you mean"),
        (ROW.replace('"5 %"', '"5 kg"'), "duty/tube-solvent/above:"),
        (ROW.replace('above = "5 %"', 'above = "5 %"\nabvoe = 1'), "unknown key 'abvoe'"),
        (ROW.replace('source = "HS-31"\n', ""), "duty/tube-solvent/source:"),
        (ROW.replace('["tube-migration"]', '["Tube migration"]'), "'Tube migration' is no kind of evidence"),
        (ROW.replace("tube-solvent", "Tube solvent"), "is no id"),
        (ROW + ROW, "two rows are called 'tube-solvent'"),
        (KIND.replace('owner = "packaging"\n', ""), "kind/tube-migration/owner:"),
        (KIND.replace("tube-migration", '"Tube migration"'), "is no name of a kind of evidence"),
        (ROW.replace('["tube-migration"]', "[5]"), "duty/tube-solvent/repeat:"),
        ("kind = 5\n", "'kind' is a number; a table is wanted here"),
    ],
)
def test_what_is_refused(text: str, said: str) -> None:
    """Every bad row at its line."""
    assert said in "\n".join(_said(text))


def test_what_is_sound_is_taken() -> None:
    """The example of the manual."""
    assert [] == _said(KIND + ROW)


@pytest.mark.parametrize(
    ("files", "severity", "said"),
    [
        ([ROW], "block", "'tube-migration' is no kind of evidence"),
        ([KIND], "warn", "no row says which change outdates 'tube-migration'"),
        ([KIND + ROW, KIND], "block", "another file of the house names the kind of evidence 'tube-migration' already"),
        (
            [KIND + ROW, KIND.replace("tube-migration", "stability")],
            "block",
            "'stability' is a kind of evidence that ships",
        ),
        ([KIND + ROW.replace("tube-solvent", "grade")], "block", "a row that ships is called 'grade'"),
    ],
)
def test_what_does_not_fit_together_is_said(files: list[str], severity: str, said: str) -> None:
    """A slip in a kind is no kind of its own, and a kind that nothing outdates is said."""
    (found,) = judge_house_duties(_workspace(*files))

    assert severity == found.severity
    assert said in found.message


def test_rows_and_kinds_may_stand_in_two_files() -> None:
    """What a house states is one table."""
    assert [] == list(judge_house_duties(_workspace(KIND, ROW)))
