"""Claims that a test proves: a sun protection factor, and claims in the house's own words."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.claims.table import judge_claims
from formula_vcs.law.compliance import Compliance
from formula_vcs.workspace.snapshot import Files, Snapshot

DAY = datetime.date(2026, 6, 1)
PIN = f'commit = "{"a" * 40}"\nhash = "{"0" * 64}"\n'


def _judged(minimal: dict[str, str], claims: str, *proofs: str) -> list[ClaimOutcome]:
    files = dict(minimal)
    files["cream.toml"] = f"{claims}\n{files['cream.toml']}"
    rows = "".join(f"[[proof]]\n{PIN}{proof}\n" for proof in proofs)
    if proofs:
        files["evidence/cream.toml"] = f'recipe = "cream"\n{rows}'
    snapshot = Snapshot(Files(files))
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    of = snapshot.formula(recipe)
    return list(judge_claims(Compliance(of, Breakdown(of)), DAY))


def _spf(value: str = "", report: str = "S-1", passed: str = "2026-05-02", more: str = "") -> str:
    found = f"value = {value}\n" if value else ""
    return f'kind = "spf-test"\nreport = "{report}"\npassed = {passed}\n{found}{more}'


@pytest.mark.parametrize(
    ("claim", "value", "verdict"),
    [
        ("SPF 30", "30", "holds"),
        ("SPF 30", "29.99", "fails"),
        ("SPF 30", "34.2", "holds"),
        ("spf 30", "34.2", "holds"),
        ("SPF30", "30", "holds"),
        # Recommendation 2006/647/EC, from memory: 50+ is 60 and more
        ("SPF 50+", "59.9", "fails"),
        ("SPF 50+", "60", "holds"),
        ("SPF 50", "50", "holds"),
        ("SPF 15+", "15", "fails"),
        ("SPF 15+", "15.1", "holds"),
        ("SPF 30", "", "needs information"),
    ],
)
def test_a_sun_protection_factor_is_what_its_test_found(
    minimal: dict[str, str], claim: str, value: str, verdict: str
) -> None:
    """The number that the test found decides; one that states none proves nothing."""
    (found,) = _judged(minimal, f'claims = ["{claim}"]', _spf(value))

    assert verdict == found.verdict, found.because


def test_a_factor_without_a_test_needs_one_and_is_no_standard_of_organic_food(minimal: dict[str, str]) -> None:
    """The kind of proof that is missing is named, and no claim of another kind is guessed."""
    (found,) = _judged(minimal, 'claims = ["SPF 30"]')

    assert "needs information" == found.verdict
    assert ("proof of kind 'spf-test': a value of at least 30",) == found.missing
    assert "nsf" not in found.because


def test_the_newest_test_counts(minimal: dict[str, str]) -> None:
    """An older test that found more does not outweigh a newer one."""
    old, new = _spf("38", "S-1", "2025-05-02"), _spf("24", "S-2", "2026-05-02")

    (found,) = _judged(minimal, 'claims = ["SPF 30"]', new, old)

    assert "fails" == found.verdict
    assert "S-2 found 24" in found.because


@pytest.mark.parametrize(("until", "verdict"), [("2026-06-01", "holds"), ("2026-05-31", "needs information")])
def test_a_test_that_has_ended_proves_nothing(minimal: dict[str, str], until: str, verdict: str) -> None:
    """Its last day counts as held."""
    (found,) = _judged(minimal, 'claims = ["SPF 30"]', _spf("38", more=f"until = {until}\n"))

    assert verdict == found.verdict


def test_a_test_that_is_still_to_come_proves_nothing(minimal: dict[str, str]) -> None:
    """A day after the one that is asked for is no day on which anything passed."""
    (found,) = _judged(minimal, 'claims = ["SPF 30"]', _spf("38", passed="2026-06-02"))

    assert "needs information" == found.verdict


def test_a_proof_of_another_version_is_said(minimal: dict[str, str]) -> None:
    """What a claim rests on was tested, and whether that is this version stands beside it."""
    (found,) = _judged(minimal, 'claims = ["SPF 30"]', _spf("38"))

    assert "of another version" in found.because


WORDS = '[claim]\n"hydrates for 24 hours" = "efficacy"\n'
EFFICACY = 'kind = "efficacy"\nreport = "EF-1"\npassed = 2026-05-02\n'


def _own(minimal: dict[str, str], table: str, *proofs: str) -> list[ClaimOutcome]:
    recipe = minimal["cream.toml"]
    return _judged(minimal | {"cream.toml": f"{recipe}\n{table}"}, "", *proofs)


def test_a_claim_in_own_words_needs_the_proof_that_it_names(minimal: dict[str, str]) -> None:
    """Without one the kind is named; with one of another kind it is not proved either."""
    (bare,) = _own(minimal, WORDS)
    (other,) = _own(minimal, WORDS, EFFICACY.replace("efficacy", "use-test"))
    (held,) = _own(minimal, WORDS, EFFICACY)

    assert "needs information" == bare.verdict == other.verdict
    assert "'efficacy'" in bare.because
    assert "holds" == held.verdict
    assert "names no claim" in held.because


def test_of_two_claims_of_a_kind_a_proof_says_which(minimal: dict[str, str]) -> None:
    """A proof that names its claim is of that one alone; one that names none is of neither."""
    two = f'{WORDS}"smooths in a week" = "efficacy"\n'
    open_ones = _own(minimal, two, EFFICACY)
    named = _own(minimal, two, f'{EFFICACY}claim = "Hydrates for  24 hours"\n')

    assert ["needs information"] * 2 == [one.verdict for one in open_ones]
    assert ["holds", "needs information"] == [one.verdict for one in named]


def test_a_kind_that_nobody_knows_is_said_with_the_nearest(minimal: dict[str, str]) -> None:
    """A slip in the kind is no kind of its own."""
    (found,) = _own(minimal, WORDS.replace('"efficacy"', '"eficacy"'), EFFICACY)

    assert "needs information" == found.verdict
    assert "'eficacy'; did you mean 'efficacy'?" in found.because


def test_words_without_a_kind_say_how_to_state_one(minimal: dict[str, str]) -> None:
    """A claim that is none of those known here is not passed over."""
    (found,) = _judged(minimal, 'claims = ["leaves skin silky"]')

    assert "needs information" == found.verdict
    assert '[claim] "leaves skin silky" = "efficacy"' in found.because
