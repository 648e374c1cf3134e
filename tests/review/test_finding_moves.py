"""Findings of two versions: what came or got worse, what went or got better, what stayed."""

from __future__ import annotations

from formula_vcs.model.finding import Finding, Severity, worst_first
from formula_vcs.review.finding_moves import sorted_out


def one(rule: str, severity: Severity, **more: str) -> Finding:
    return Finding(rule, severity, rule, more.get("file", "p.toml"), recipe="p", subject=more.get("subject", ""))


def test_sorted_out() -> None:
    before = [one("gone", "warn"), one("worse", "note"), one("better", "block"), one("same", "warn")]
    after = [one("worse", "warn"), one("better", "note"), one("same", "warn"), one("came", "note")]
    found = sorted_out(before, after)

    assert ["worse", "came"] == [finding.rule for finding in found.fresh]
    assert ["gone", "better"] == [finding.rule for finding in found.gone]
    assert ["better", "same"] == [finding.rule for finding in found.still]


def test_blocks_come_first_and_a_misreading_before_what_follows_from_it() -> None:
    findings = [
        one("limit", "note", file="a.toml"),
        one("claim-fails", "block", file="a.toml"),
        one("bad-value", "block", file="z.toml"),
        one("free-acid", "warn", file="a.toml"),
        one("bad-value", "warn", file="z.toml"),
    ]

    assert [
        ("bad-value", "block"), ("claim-fails", "block"), ("bad-value", "warn"), ("free-acid", "warn"),
        ("limit", "note"),
    ] == [(finding.rule, finding.severity) for finding in sorted(findings, key=worst_first)]  # fmt: skip
