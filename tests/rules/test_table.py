"""The table of rules itself: every rule has its page, its cases for both sides, and its source."""

from __future__ import annotations

import argparse
import tomllib
from pathlib import Path

import pytest

from formula_vcs.commands import check
from formula_vcs.model.finding import SEVERITIES
from formula_vcs.rules import registry
from formula_vcs.rules.registry import RULES
from formula_vcs.rules.rule import Rule

CASES = Path(__file__).with_name("cases")
ROOT = Path(__file__).resolve().parents[1]
EVERY = pytest.mark.parametrize("rule", RULES.values(), ids=RULES)


def test_ids_are_unique() -> None:
    assert len(registry._ALL) == len(RULES)


def test_every_case_file_belongs_to_a_rule() -> None:
    assert set() == {path.stem for path in CASES.glob("*.toml")} - set(RULES)


@EVERY
def test_a_rule_has_a_page(rule: Rule) -> None:
    page = type(rule).__doc__ or ""

    assert page.strip()
    assert page.strip().splitlines()[0].endswith(".")
    assert rule.source
    assert rule.severity in SEVERITIES


@pytest.mark.parametrize("rule", [rule for rule in RULES.values() if rule.judges == "review"], ids=lambda rule: rule.id)
def test_a_rule_of_two_versions_has_tests_of_its_own(rule: Rule) -> None:
    """No check of one version says it, so it has no cases: what compares versions is tested where that lives."""
    tests = (ROOT / "review").glob("test_*.py")

    assert not rule.acceptable
    assert any(f'"{rule.id}"' in file.read_text("utf-8") for file in tests)


@pytest.mark.parametrize("rule", [rule for rule in RULES.values() if rule.judges != "review"], ids=lambda rule: rule.id)
def test_a_rule_has_cases_for_both_sides(rule: Rule) -> None:
    """Some workspace breaks it, and some workspace, in the same file, does not."""
    cases = tomllib.loads((CASES / f"{rule.id}.toml").read_text("utf-8"))["case"]
    broken = [any(line.startswith(f"{rule.id} ") for line in case["expect"]) for case in cases]
    names = [case["name"] for case in cases]

    assert any(broken)
    assert not all(broken)
    assert sorted(set(names)) == sorted(names)


@EVERY
def test_a_rule_is_explained(rule: Rule, capsys: pytest.CaptureFixture[str]) -> None:
    parser = argparse.ArgumentParser()
    check.arguments(parser)

    assert check.run(parser.parse_args(["--explain", rule.id])) == 0
    shown = capsys.readouterr().out
    assert shown.startswith(f"{rule.id} ({rule.severity}")
    assert f"Source: {rule.source}" in " ".join(shown.split())
