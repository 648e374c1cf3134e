"""Reading a pack: every bad row at its line, all of them at once."""

from __future__ import annotations

from typing import Any

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.law.pack_rows import rows
from formula_vcs.model.facts import Unread, unread
from formula_vcs.model.finding import worst_first
from formula_vcs.toml import syntax
from formula_vcs.toml.rules_file import place, read_rules
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.published.helpers_law import DAY


def read(text: str) -> Any:
    parsed = syntax.parse(text.encode())
    assert not parsed.errors
    return read_rules(parsed.data)


ROW = '[[rule]]\nid = "a"\nkind = "limit"\nsubstances = ["Menthol"]\nat_most = "0.8 %"\nsource = "HS-12"\n'


def test_a_row_of_the_house() -> None:
    (row,) = rows(read(ROW), "house", file="rules/house.toml", house=True)

    assert ("a", "limit", "HS-12", "house") == (row.id, row.kind, row.citation, row.checked)
    assert (("menthol",), "4/5") == (row.names, str(row.at_most))
    assert "HS-12" == row.source


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "limit"', 'kind = "limt"', "did you mean 'limit'?"),
        ('at_most = "0.8 %"', "at_most = 0.8", "bare number"),
        ('at_most = "0.8 %"', 'at_most = "8 min"', "is a time"),
        ('at_most = "0.8 %"', 'at_mst = "0.8 %"', "did you mean 'at_most'?"),
        ('at_most = "0.8 %"', "", "'at_most' is missing in row 'a'"),
        ('source = "HS-12"', "", "'source' is missing in row 'a'"),
        ('substances = ["Menthol"]', "", "'substances' is missing in row 'a'"),
        ('substances = ["Menthol"]', "substances = []", "a list of names"),
        ('substances = ["Menthol"]', 'cas = ["89-78-2"]', "its check digit would be 1"),
        ('substances = ["Menthol"]', 'group = "mints"', "there is no group 'mints'"),
        ('id = "a"', 'id = "A a"', "is no id"),
        ('id = "a"', "", "'id' is missing"),
        ('source = "HS-12"', 'source = "HS-12"\nwhere = { contct = ["oral"] }', "did you mean 'contact'?"),
        ('source = "HS-12"', 'source = "HS-12"\nplaced = { from = "2027-01-01" }', "a date without quotes"),
        ('source = "HS-12"', 'source = "HS-12"\nph = "eleven"', "is no pH"),
        ('source = "HS-12"', 'source = "HS-12"\nbetween = ["1 to 2 kg"]', "kg"),
        ('source = "HS-12"', 'source = "HS-12"\nchecked = "belief"', "is not known"),
    ],
)
def test_what_is_wrong_with_a_row(old: str, new: str, words: str) -> None:
    messages = [value.message for _, value in unread(read(ROW.replace(old, new)))]

    assert any(words in message for message in messages), messages


def test_all_that_is_wrong_stands_at_its_line() -> None:
    text = ROW + '\n[[rule]]\nid = "a"\nkind = "limit"\n\n[[rule]]\nid = "c"\n'
    files = {"workspace.toml": 'title = "x"\n', "rules/house.toml": text}
    with Snapshot(Files(files)) as snapshot:
        placed = sorted((snapshot.place(f) for f in judge_workspace(snapshot, DAY)), key=worst_first)

    assert [(9, "bad-id"), (8, "missing-value"), (12, "missing-value")] == sorted(
        {(f.line, f.rule) for f in placed}, key=lambda pair: (pair[1], pair[0])
    )


def test_a_row_that_cannot_be_read_is_left_out_and_the_others_stand() -> None:
    facts = read(ROW + '\n[[rule]]\nid = "b"\nkind = "limit"\nsubstances = ["X"]\nat_most = "lots"\nsource = "s"\n')

    assert ["a"] == [row.id for row in rows(facts, "house", house=True)]
    assert isinstance(facts["rule", "b", "at_most"], Unread)


def test_the_place_of_a_row() -> None:
    facts = read(ROW + ROW.replace('"a"', '"b"'))

    assert ("rule", 1, "at_most") == place(facts, ("rule", "b", "at_most"))
    assert ("title",) == place(facts, ("title",))


@pytest.mark.parametrize("group", ["{}", "{ a = 1 }", "[[]]", "1", "true", "2026-01-01T00:00:00"])
def test_a_group_that_is_no_name_is_refused(group: str) -> None:
    facts = read(f"{ROW}group = {group}\n")

    assert next(value.message for value in facts.values() if isinstance(value, Unread)).startswith("'group' is ")
