"""An evidence file is read strictly, and all that is wrong with it is said at once, at its place."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.model.evidence import KINDS, proofs
from formula_vcs.model.facts import unread
from formula_vcs.model.workspace import Record
from formula_vcs.toml.record_files import place, read_evidence
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.conftest import MINIMAL

GOOD: dict[str, Any] = {
    "kind": "stability",
    "commit": "3f2c9d1",
    "hash": "0" * 64,
    "report": "ST-1",
    "passed": datetime.date(2026, 5, 2),
}


def said(proof: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Read one proof and give what is refused: where, by which rule, in which words."""
    facts = read_evidence({"recipe": "cream", "proof": [proof]})
    return [("/".join(path), value.rule, value.message) for path, value in unread(facts)]


def test_a_proof_is_read_whole() -> None:
    more = {
        "until": datetime.date(2028, 5, 2),
        "size": "100 kg",
        "pack": "75 mL",
        "market": "EU",
        "note": "x",
        "by": "y",
    }
    facts = read_evidence({"recipe": "cream", "title": "Cream", "proof": [GOOD | more]})

    (proof,) = proofs(Record("evidence", "cream", facts, "evidence/cream.toml"))
    assert [] == list(unread(facts))
    assert ("cream", "stability", "ST-1", 1) == (proof.recipe, proof.kind, proof.report, proof.number)
    assert ("100 kg", "75 mL") == (str(proof.size), str(proof.pack))
    assert "stability (EU, 75 mL)" == proof.what
    assert not proof.ended(datetime.date(2028, 5, 2))
    assert proof.ended(datetime.date(2028, 5, 3))


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_evidence(kind: str) -> None:
    assert [] == said(GOOD | {"kind": kind, "scheme": "cosmos-organic-4"})


@pytest.mark.parametrize(
    ("proof", "expected"),
    [
        (
            GOOD | {"kind": "Stabilty"},
            ("kind", "bad-value", "did you mean 'stability'?"),
        ),  # an id may be a kind of the house: rule evidence-kind
        (GOOD | {"kind": 3}, ("kind", "wrong-type", "one of stability")),
        (GOOD | {"commit": "main"}, ("commit", "bad-value", "no commit id")),
        (GOOD | {"commit": "3F2C9D1"}, ("commit", "bad-value", "no commit id")),
        (GOOD | {"commit": "3f2c9d1\n--help"}, ("commit", "bad-value", "no commit id")),
        (GOOD | {"hash": "00"}, ("hash", "bad-value", "64 digits")),
        (GOOD | {"report": " "}, ("report", "bad-value", "is empty")),
        (GOOD | {"passed": "2026-05-02"}, ("passed", "wrong-type", "a date without quotes")),
        (GOOD | {"passed": datetime.datetime(2026, 5, 2, 9)}, ("passed", "wrong-type", "a date with a time")),  # noqa: DTZ001 - a date without a zone is what a file can hold
        (GOOD | {"until": 2028}, ("until", "wrong-type", "a date without quotes")),
        (GOOD | {"size": "100 mL"}, ("size", "bad-quantity", "volume")),
        (GOOD | {"size": "0 kg"}, ("size", "bad-quantity", "is nothing")),
        (GOOD | {"pack": 75}, ("pack", "bad-quantity", "bare number")),
        (GOOD | {"reprot": "x"}, ("reprot", "unknown-key", "did you mean 'report'?")),
        ({k: v for k, v in GOOD.items() if k != "hash"}, ("hash", "missing-value", "in [[proof]] number 1")),
        (GOOD | {"kind": "certificate"}, ("scheme", "missing-value", "'scheme' is missing")),
    ],
)
def test_what_is_refused(proof: dict[str, Any], expected: tuple[str, str, str]) -> None:
    key, rule, words = expected

    ((path, by, message),) = said(proof)
    assert (f"proof/1/{key}", rule) == (path, by)
    assert words in message


@pytest.mark.parametrize("data", [{}, {"recipe": "cream"}, {"proof": []}, {"recipe": 1, "proof": {}}, {"proof": [1]}])
def test_a_file_without_what_it_needs(data: dict[str, Any]) -> None:
    facts = read_evidence(data)

    assert list(unread(facts))
    assert () == proofs(Record("evidence", "cream", facts))


def test_a_file_of_any_length_is_read_to_a_limit() -> None:
    facts = read_evidence({"recipe": "cream", "proof": [GOOD] * 501})

    assert 500 == len(proofs(Record("evidence", "cream", facts)))
    assert ["501 proofs in one file; 500 are the most"] == [v.message.partition(", and")[0] for _, v in unread(facts)]


def test_a_refused_proof_is_left_out_and_its_neighbour_is_not() -> None:
    facts = read_evidence({"recipe": "cream", "proof": [GOOD | {"passed": 1}, GOOD | {"report": "ST-2"}]})

    assert ["ST-2"] == [proof.report for proof in proofs(Record("evidence", "cream", facts))]


def test_problems_stand_at_their_lines() -> None:
    text = (
        'recipe = "cream"\nowner = "me"\n\n[[proof]]\nkind = "stability"\n\n'
        '[[proof]]\nkind = "Artwrk"\ncommit = "zz"\nhash = "0"\nreport = "A"\npassed = 1\n'
    )
    with Snapshot(Files({**MINIMAL, "evidence/cream.toml": text})) as snapshot:
        found = [snapshot.place(f) for f in judge_workspace(snapshot, datetime.date(2026, 6, 1))]

    assert [
        (2, 1, "unknown-key"), (4, 3, "missing-value"), (4, 3, "missing-value"), (4, 3, "missing-value"),
        (4, 3, "missing-value"), (8, 1, "bad-value"), (9, 1, "bad-value"), (10, 1, "bad-value"), (12, 10, "wrong-type"),
    ] == sorted((f.line, f.column, f.rule) for f in found if f.file == "evidence/cream.toml")  # fmt: skip


def test_a_place_is_a_path_of_keys() -> None:
    assert ("proof", 1, "hash") == place({}, ("proof", "2", "hash"))
    assert ("recipe",) == place({}, ("recipe",))
