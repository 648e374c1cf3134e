"""Rows of pairs as a house writes them: strictly read, every bad one said at its place."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.workspace.snapshot import Files, Snapshot

GOOD = (
    '[[pair]]\nid = "ours"\none = { class = ["anionic"] }\nother = { substances = ["Parfum"] }\n'
    'what = "clouds"\nsource = "house"\n'
)


def said(text: str) -> list[str]:
    snapshot = Snapshot(Files({"workspace.toml": 'title = "W"\n', "rules/house.toml": text}))
    placed = [snapshot.place(finding) for finding in judge_workspace(snapshot, datetime.date(2026, 6, 1))]
    return [f"{finding.line}:{finding.column} {finding.rule} {finding.message}" for finding in placed]


def test_a_good_row_is_read() -> None:
    assert [] == said(GOOD)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('["anionic"]', '["anionik"]', "3:9 bad-value 'class': there is no class 'anionik'; did you mean 'anionic'?"),
        ('["anionic"]', '["anionic", "plasma"]', "3:9 bad-value 'class': there is no class 'plasma'; known: anionic,"),
        ('["anionic"]', "3", "3:17 wrong-type 'class' is a number; a list of names"),
        ("class =", "clas =", "unknown-key unknown key 'clas' in 'one' of pair 'ours'; did you mean 'class'?"),
        ('{ class = ["anionic"] }', "{}", "missing-value 'substances' is missing in 'one' of pair 'ours'"),
        ('what = "clouds"\n', "", "missing-value 'what' is missing in pair 'ours'"),
        ('other = { substances = ["Parfum"] }\n', "", "missing-value 'other' is missing in pair 'ours'"),
        ('source = "house"', 'source = "house"\npH = "about 5"', "'about 5' is no pH condition; write \"above 5.5\""),
        ('source = "house"', 'source = "house"\npH = "above 15"', "'pH': no product has a pH of 15"),
        ('source = "house"', 'source = "house"\nfirst = "one"', "'first' is about two that meet in a vessel"),
        ('source = "house"', 'source = "house"\ntogether = "pot"', "'together': 'pot' is not known"),
        (
            'source = "house"',
            'source = "house"\noff = "tried"',
            "a row that is switched off ('off') states nothing else",
        ),
        ('source = "house"', 'source = "common practice"\nseverity = "block"', "common practice alone blocks nothing"),
        ('source = "house"', 'source = "house"\nabove = 3', "unknown key 'above' in pair 'ours'"),
        ('["Parfum"] }', '["Parfum"], above = 3 }', "'above' is a bare number; a share, e.g. \"80 %\""),
        ('id = "ours"', 'id = "Our own"', "'Our own' is no id"),
    ],
)
def test_a_bad_row_is_said_at_its_place(old: str, new: str, words: str) -> None:
    assert old in GOOD
    found = said(GOOD.replace(old, new, 1))

    assert any(words in line for line in found), found
    assert all(int(line.partition(":")[0]) > 0 for line in found)


def test_two_rows_of_one_id() -> None:
    assert any("two rows are called 'ours'" in line for line in said(GOOD + GOOD))


def test_no_array_of_tables() -> None:
    assert ["1:8 wrong-type 'pair' is text; an array of tables, [[pair]], is wanted here"] == said('pair = "x"\n')
