"""A change that loosens what judges it is held back until the version that comes of it is approved as the base asks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.approvals.helpers_approvals import ASKING, PEOPLE, House
from tests.conftest import MINIMAL, GitRepo

Make = Callable[..., GitRepo]
Capsys = pytest.CaptureFixture[str]
CREAM = MINIMAL["cream.toml"].replace('title = "Cream"\n', 'title = "Cream"\nproduct = "hand cream"\n')
CREAM += '\n[spec]\nviscosity = "18 to 28 Pa*s"\n'
WIDER = CREAM.replace("28 Pa*s", "48 Pa*s")
NO = "not approved"
ROWS = ASKING.replace('roles = ["RD", "QA"]', 'roles = ["RD", "QA"]\nproduct = ["hand cream"]')


@pytest.fixture
def shed(git_repo: Make, tmp_path: Path) -> House:
    made = House(git_repo(), tmp_path / "keys")
    made.commit({**MINIMAL, "workspace.toml": ROWS, "cream.toml": CREAM, "approvals/trust.toml": made.trust()})
    made.repo.git("checkout", "-q", "-b", "proposal")
    return made


def _held(shed: House, capsys: Capsys) -> tuple[int, int, str]:
    """Give the statuses of the review and of the merge's check, and what the review said."""
    capsys.readouterr()
    merged = shed.run("check", "--merge", "main", "proposal", "--guard", "block")
    capsys.readouterr()
    reviewed = shed.run("review", "--guard", "block", "main...proposal")
    return reviewed, merged, " ".join(capsys.readouterr().out.split())


def _sign_trust(shed: House, *people: str) -> None:
    for who in people:
        shed.repo.git("config", "user.signingkey", str(shed.key(who)))
        assert 0 == shed.run("approve", "--trust", "--yes")
        shed.commit(by=who)


def test_a_loosening_passes_when_all_roles_of_the_base_approved_what_comes_of_it(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": WIDER})
    reviewed, merged, said = _held(shed, capsys)
    assert (1, 1) == (reviewed, merged)
    assert "block [guard-spec]" in said
    shed.approved("quentin", "QA")
    assert (1, 1) == _held(shed, capsys)[:2]
    shed.approved("rhea", "RD")
    reviewed, merged, said = _held(shed, capsys)

    assert (0, 0) == (reviewed, merged)
    assert "warn [guard-spec]" in said
    assert "approved by Rhea (RD), Quentin (QA)" in said
    shed.commit({"cream.toml": WIDER.replace("48", "58")})
    assert (1, 1) == _held(shed, capsys)[:2]


def test_what_the_branch_says_about_who_may_sign_counts_for_nothing(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": WIDER, "approvals/trust.toml": shed.trust({"mallory": ("QA", "trust"), "eve": ("RD",)})})
    for who, role in (("mallory", "QA"), ("eve", "RD")):
        assert 2 == shed.approve(who, role)
    reviewed, merged, said = _held(shed, capsys)

    assert (1, 1) == (reviewed, merged)
    assert "[guard-approval] approvals/trust.toml" in said
    assert "+ mallory (Mallory): QA, trust" in said


def test_where_the_base_asks_for_nobody_nothing_passes(git_repo: Make, tmp_path: Path, capsys: Capsys) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    shed.commit({**MINIMAL, "cream.toml": CREAM, "approvals/trust.toml": shed.trust()})
    shed.repo.git("checkout", "-q", "-b", "proposal")
    shed.commit({"cream.toml": WIDER, "workspace.toml": ROWS})
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")

    assert (1, 1) == _held(shed, capsys)[:2]


def test_the_rows_go_only_with_the_old_trusts_signatures(shed: House, capsys: Capsys) -> None:
    shed.commit({"workspace.toml": MINIMAL["workspace.toml"]})
    reviewed, merged, said = _held(shed, capsys)
    assert (1, 1) == (reviewed, merged)
    assert "[guard-approval] workspace.toml" in said
    assert "cream: made without the approval of RD, QA from now on" in said
    _sign_trust(shed, "quentin")
    assert (1, 1) == _held(shed, capsys)[:2]
    _sign_trust(shed, "rhea")
    reviewed, merged, said = _held(shed, capsys)

    assert (0, 0) == (reviewed, merged)
    assert "signed by Quentin, Rhea (trust)" in said


def test_only_marking_is_less_than_refusing(shed: House, capsys: Capsys) -> None:
    shed.commit({"workspace.toml": ROWS + 'unapproved = "mark"\n'})

    reviewed, _, said = _held(shed, capsys)
    assert 1 == reviewed
    assert "made without approvals from now on, and only marked" in said


def test_a_product_that_leaves_the_rows_needs_those_that_it_had(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": CREAM.replace("hand cream", "body cream")})
    reviewed, _, said = _held(shed, capsys)
    assert 1 == reviewed
    assert "[guard-approval] cream.toml" in said
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")

    assert 0 == _held(shed, capsys)[0]


@pytest.mark.parametrize("how", ["deleted", "renamed", "cut short"])
def test_a_trust_file_that_goes_is_said_and_held_back(shed: House, capsys: Capsys, how: str) -> None:
    trust = shed.repo.path / "approvals" / "trust.toml"
    if how == "cut short":
        trust.write_text("[person")
    elif how == "renamed":
        trust.rename(trust.with_name("old.toml"))
    else:
        trust.unlink()
    shed.commit()

    reviewed, merged, said = _held(shed, capsys)
    assert (1, 1) == (reviewed, merged)
    assert "[guard-approval] approvals/trust.toml" in said


def test_a_signed_decision_that_is_deleted_is_said_whatever_is_approved(shed: House, capsys: Capsys) -> None:
    shed.repo.git("checkout", "-q", "main")
    shed.approved("quentin", "QA")
    shed.approved("quentin", "QA", "--withdraw", "drifts")
    shed.repo.git("checkout", "-q", "-B", "proposal")
    (gone,) = [path for path in shed.files() if 'decision = "withdraw"' in path.read_text("utf-8")]
    gone.unlink()
    shed.commit()

    reviewed, merged, said = _held(shed, capsys)
    assert (1, 1) == (reviewed, merged)
    assert "a signed decision is deleted: 'withdraw' by QA on 'cream'" in said
    shed.repo.git("revert", "--no-edit", "HEAD")
    assert (0, 0) == _held(shed, capsys)[:2]


def test_a_signature_that_is_taken_away_alone_is_said(shed: House, capsys: Capsys) -> None:
    shed.repo.git("checkout", "-q", "main")
    shed.approved("quentin", "QA")
    shed.approved("quentin", "QA", "--withdraw", "drifts")
    shed.repo.git("checkout", "-q", "-B", "proposal")
    (withdrawn,) = [path for path in shed.files() if 'decision = "withdraw"' in path.read_text("utf-8")]
    withdrawn.with_name(f"{withdrawn.name}.sig").unlink()
    shed.commit()

    reviewed, merged, said = _held(shed, capsys)
    assert (1, 1) == (reviewed, merged)
    assert "the signature of a decision is deleted: 'withdraw' by QA on 'cream'" in said
    assert NO == shed.states()["QA"]
    shed.repo.git("revert", "--no-edit", "HEAD")
    assert (0, 0) == _held(shed, capsys)[:2]


def test_what_no_signature_covers_does_not_pass_with_one(shed: House, capsys: Capsys) -> None:
    shed.repo.git("checkout", "-q", "main")
    shed.commit({"workspace.toml": 'reason = "required"\n' + ROWS})
    shed.repo.git("checkout", "-q", "-B", "proposal")
    shed.commit({"workspace.toml": ROWS})
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")

    reviewed, _, said = _held(shed, capsys)
    assert 1 == reviewed
    assert "block [guard-house]" in said


def test_a_key_revoked_on_the_base_since_lets_nothing_pass(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": WIDER})
    shed.approved("zoe", "QA")
    shed.approved("rhea", "RD")
    assert 0 == _held(shed, capsys)[0]
    shed.repo.git("checkout", "-q", "main")
    people = {name: roles for name, roles in PEOPLE.items() if name != "zoe"}
    more = f'[[revoked]]\nkey = "{shed.public("zoe")}"\nwhy = "stolen"\n'
    shed.commit({"approvals/trust.toml": shed.trust(people, more)})
    _sign_trust(shed, "quentin", "rhea")

    assert (1, 1) == _held(shed, capsys)[:2]


def test_a_first_trust_loosens_nothing(git_repo: Make, tmp_path: Path, capsys: Capsys) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    shed.commit(MINIMAL)
    shed.repo.git("checkout", "-q", "-b", "proposal")
    shed.commit({"workspace.toml": ROWS, "approvals/trust.toml": shed.trust()})

    assert (0, 0) == _held(shed, capsys)[:2]


def test_guard_wants_a_change(shed: House, capsys: Capsys) -> None:
    assert 2 == shed.run("check", "--guard", "block")
    assert "--guard judges a change" in capsys.readouterr().err


def test_a_bare_repository_as_a_ci_job_has_it_knows_it_too(shed: House, tmp_path: Path, capsys: Capsys) -> None:
    shed.commit({"cream.toml": WIDER})
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")
    shed.repo.git("checkout", "-q", "main")
    shed.repo.git("merge", "-q", "--no-ff", "--no-edit", "proposal")
    shed.repo.git("branch", "merged")
    shed.repo.git("branch", "base", "merged^1")
    shed.repo.git("clone", "-q", "--bare", ".", str(tmp_path / "bare.git"))
    shed.repo.path = tmp_path / "bare.git"
    capsys.readouterr()

    assert 0 == shed.run("review", "--guard", "block", "base..merged", "--format", "markdown")
    assert "approved by Rhea" in capsys.readouterr().out


def test_the_words_of_a_diff_are_about_people_and_products(shed: House, capsys: Capsys) -> None:
    shed.approved("quentin", "QA")
    people = {name: roles for name, roles in PEOPLE.items() if name != "mako"}
    shed.commit({"approvals/trust.toml": shed.trust(people), "workspace.toml": ROWS.replace('"RD", ', "")})
    capsys.readouterr()
    assert 0 == shed.run("diff", "main..proposal")
    said = " ".join(capsys.readouterr().out.split())

    assert "what needs approval: hand cream: RD, QA \u2192 hand cream: QA" in said
    assert "approvals/trust.toml: - mako: may sign nothing any more" in said
    assert "added, 'approve' by QA on 'cream'" in said
    assert "approval 1" not in said
