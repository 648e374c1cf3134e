"""Changes of evidence are told by what is proved."""

from __future__ import annotations

from typing import Any

import pytest

from formula_vcs.diff.material_changes import proof_changes
from formula_vcs.toml.record_files import read_evidence

HASH = "c" * 64


def proof(kind: str, report: str, **more: Any) -> dict[str, Any]:
    """Give one proof as TOML has it."""
    return {"kind": kind, "report": report, "commit": "a" * 40, "hash": HASH, "passed": "2026-02-12"} | more


def words(old: list[Any], new: list[Any]) -> list[str] | None:
    """Give the changes between two files of proofs in words."""
    facts = (read_evidence({"recipe": "cream", "proof": side}) for side in (old, new))
    found = proof_changes("evidence/cream.toml", "evidence/cream", "", *facts)
    return None if found is None else [change.text for change in found]


STABILITY = proof("stability", "ST-1", note="12 weeks")
CHALLENGE = proof("challenge-test", "CT-7")


def test_a_proof_that_goes_is_one_line_whatever_stands_below_it() -> None:
    (line,) = words([STABILITY, CHALLENGE], [CHALLENGE]) or []

    assert line.startswith("proof of stability ST-1: removed (passed ")


def test_a_proof_that_comes_first_is_one_line() -> None:
    (line,) = words([CHALLENGE], [STABILITY, CHALLENGE]) or []

    assert line.startswith("proof of stability ST-1: added (passed ")


def test_a_value_is_told_under_its_proof_also_where_the_order_changed() -> None:
    later = STABILITY | {"note": "24 weeks"}

    assert ["proof of stability ST-1, note: 12 weeks \u2192 24 weeks"] == words(
        [STABILITY, CHALLENGE], [CHALLENGE, later]
    )


def test_another_report_is_another_proof() -> None:
    found = words([STABILITY], [STABILITY | {"report": "ST-2"}]) or []

    assert ["ST-1: removed", "ST-2: added"] == [
        line.partition(" (")[0].removeprefix("proof of stability ") for line in found
    ]


def test_the_order_alone_means_nothing() -> None:
    assert [] == words([STABILITY, CHALLENGE], [CHALLENGE, STABILITY])


@pytest.mark.parametrize("side", [[STABILITY, STABILITY], [1]])
def test_what_kind_and_report_do_not_tell_apart_is_left_to_its_place(side: list[Any]) -> None:
    assert words([STABILITY], side) is None
    assert words(side, [STABILITY]) is None
