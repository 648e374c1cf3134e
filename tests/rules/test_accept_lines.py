"""The lines that accept a finding accept it, and no other."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.model.finding import Finding
from formula_vcs.rules.accepted import accept_lines
from formula_vcs.rules.registry import RULES
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.rules.test_cases import CASES, DAY, _texts

ACCEPTABLE = sorted(rule.id for rule in RULES.values() if rule.acceptable)


def _findings(texts: Mapping[str, str]) -> list[Finding]:
    with Snapshot(Files(dict(texts))) as snapshot:
        return list(judge_workspace(snapshot, DAY))


def _broken(rule: str) -> list[dict[str, Any]]:
    found = tomllib.loads((CASES / f"{rule}.toml").read_text("utf-8"))["case"]
    return [case for case in found if not {"history", "links", "size"} & set(case)]


@pytest.mark.parametrize("rule", ACCEPTABLE)
def test_the_lines_accept_the_finding_and_no_other(rule: str, minimal: dict[str, str]) -> None:
    for case in _broken(rule):
        texts = _texts(case, minimal)
        before = _findings(texts)
        for finding in before:
            lines = accept_lines(finding)
            if lines is None or finding.rule != rule:
                continue
            after = _findings(texts | {finding.file: f"{texts[finding.file]}\n{lines}"})

            same = (finding.rule, finding.subject)
            assert {"note"} == {one.severity for one in after if (one.rule, one.subject) == same}
            assert not [one for one in after if one.rule == "accept-unused" and finding.subject in one.message]
            others = [(one.rule, one.subject, one.severity) for one in before if (one.rule, one.subject) != same]
            assert others == [(one.rule, one.subject, one.severity) for one in after if (one.rule, one.subject) != same]


def test_what_is_a_note_or_cannot_be_accepted_has_no_lines() -> None:
    assert accept_lines(Finding("total", "block", "x", "r.toml", recipe="r")) is None
    assert accept_lines(Finding("limit", "note", "x", "r.toml", recipe="r")) is None
    assert accept_lines(Finding("limit", "block", "x", "r.toml")) is None
    assert accept_lines(Finding("no-such-rule", "block", "x", "r.toml", recipe="r")) is None


def test_a_name_that_means_ill_stays_a_text() -> None:
    lines = accept_lines(Finding("limit", "block", "x", "r.toml", recipe="r", subject='a"\nrule = "total\x7f'))

    assert lines is not None
    assert {"rule": "limit", "about": 'a"\nrule = "total\x7f', "why": "..."} == tomllib.loads(lines)["accept"][0]
