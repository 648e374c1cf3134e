"""``git formula review``: what a pull request means, four parts, the verdict."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs import __version__
from tests.commands.bench_repo import POLISH, SHOP, SWAPPED, TONER, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


@pytest.fixture
def proposal(shop: Any) -> Any:
    """Give a branch that swaps the grade, while main went on."""
    shop.git("switch", "--quiet", "--create", "proposal")
    shop.commit("One silica", {"polish.toml": SWAPPED})
    shop.git("switch", "--quiet", "main")
    shop.commit("More glycerin", {"toner.toml": TONER.replace("= 1.00", "= 2.00")})
    shop.git("switch", "--quiet", "proposal")
    return shop


def test_the_text_as_a_reviewer_reads_it(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review")

    out = said.out.replace(proposal.git("merge-base", "main", "HEAD")[:10], "0123456789")
    assert golden("review.txt", out) == out
    assert 80 >= max(map(len, said.out.splitlines()))
    assert 1 == said.status


def test_the_markdown_of_a_pull_request(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review", "--format", "markdown")

    out = said.out.replace(proposal.git("merge-base", "main", "HEAD")[:10], "0123456789")
    out = out.replace(proposal.git("rev-parse", "HEAD")[:7], "abcdef0").replace(f"git-formula {__version__}", "it")
    assert golden("review.md", out) == out


def test_a_new_finding_has_its_cause(proposal: Any, capsys: Capsys) -> None:
    data = run(capsys, "review", "--format", "json").json("diff")

    assert ["polish"] == [item["recipe"] for item in data["recipes"]]
    swap = ["grade-swap:phase/A/charge/silica-thickening"]
    assert [("shear-at-most", "block", swap), ("demand-lost", "warn", swap)] == [
        (finding["rule"], finding["severity"], finding["causes"]) for finding in data["recipes"][0]["findings"]["new"]
    ]
    assert data["blocked"]


def test_alone_it_means_a_pull_request_and_on_the_default_branch_the_work_tree(proposal: Any, capsys: Capsys) -> None:
    base = proposal.git("merge-base", "main", "HEAD")[:10]
    assert f"main...HEAD, from their merge base {base}" == run(capsys, "review").lines[0]
    assert f"HEAD~1...HEAD, from their merge base {base}" == run(capsys, "review", "HEAD~1").lines[0]
    assert "HEAD \u2192 index" == run(capsys, "review", "--staged").lines[0]
    assert "main \u2192 HEAD" == run(capsys, "review", "main..HEAD").lines[0]
    proposal.git("switch", "--quiet", "main")
    assert "HEAD \u2192 work tree" == run(capsys, "review").lines[0]
    assert 1 == run(capsys, "review", "main...proposal").status


def test_fail_on(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": SWAPPED})

    assert [1, 1, 1, 0] == [
        run(capsys, "review", "--fail-on", level).status for level in ("block", "warn", "note", "never")
    ]
    shop.write({"polish.toml": POLISH.replace("14.00", "13.00")})
    assert 0 == run(capsys, "review").status


def test_a_finding_that_was_there_before_still_blocks(shop: Any, capsys: Capsys) -> None:
    shop.commit("broken", {"polish.toml": SWAPPED})
    shop.write({"polish.toml": SWAPPED.replace("12.00", "11.00")})

    data = run(capsys, "review", "--format", "json").json("diff")

    assert data["blocked"]
    found = data["recipes"][0]["findings"]
    still = [item["rule"] for item in found["still"]]
    assert ([], [], ["shear-at-most", "preserved"]) == (found["new"], found["gone"], still)
    text = run(capsys, "review")
    assert 1 == text.status
    assert "blocked by shear-at-most (polish)" == text.lines[-1]


def test_a_finding_that_goes_is_said(shop: Any, capsys: Capsys) -> None:
    shop.commit("broken", {"polish.toml": SWAPPED})
    shop.write({"polish.toml": POLISH})

    data = run(capsys, "review", "--format", "json").json("diff")

    assert ["shear-at-most"] == [item["rule"] for item in data["recipes"][0]["findings"]["gone"]]
    assert not data["blocked"]


def test_a_file_that_does_not_parse_blocks_and_hides_nobody_else(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": POLISH + "broken =\n", "toner.toml": TONER.replace("= 1.00", "= 2.00")})

    said = run(capsys, "review", "--format", "json")
    data = said.json("diff")

    assert 1 == said.status
    assert {"polish": "unread", "toner": "changed"} == {item["recipe"]: item["status"] for item in data["recipes"]}
    text = run(capsys, "review")
    assert "its file cannot be read, so it is not compared" in text.lines
    assert 1 == text.status


def test_formatting_alone_blocks_nothing(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": POLISH.replace("14.00", "14.0")})

    said = run(capsys, "review")

    assert 0 == said.status
    assert "No change in meaning, in layout or comments only: polish." in said.lines


def test_without_evidence_it_says_quietly_what_would_be_outdated(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": POLISH.replace("14.00", "13.00")})

    said = run(capsys, "review")
    assert "No evidence recorded of stability" in " ".join(said.lines)
    data = run(capsys, "review", "--format", "json").json("diff")["recipes"][0]
    assert ([], []) == (data["duties"], data["proofs"])
    assert "stability" in data["unrecorded"]


def test_empty_repository_and_bare_repository(
    git_repo: Make, shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shop.git("switch", "--quiet", "--create", "proposal")
    shop.commit("swap", {"polish.toml": SWAPPED})
    shop.git("clone", "--quiet", "--bare", ".", str(tmp_path / "bare.git"))
    monkeypatch.chdir(tmp_path / "bare.git")
    assert 1 == run(capsys, "review", "main...proposal").status

    empty = git_repo(name="empty")
    empty.write(SHOP)
    monkeypatch.chdir(empty.path)
    said = run(capsys, "review")
    assert (0, "nothing (no commits yet) \u2192 work tree") == (said.status, said.lines[0])


def test_a_shallow_clone_says_what_it_lacks(
    proposal: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    proposal.git("clone", "--quiet", "--depth=1", "--no-single-branch", f"file://{proposal.path}", str(tmp_path / "ci"))
    monkeypatch.chdir(tmp_path / "ci")

    said = run(capsys, "review", "origin/main")

    assert 2 == said.status
    assert "have no commit in common here; this clone is shallow" in said.err
    assert 1 == run(capsys, "review", "origin/main..HEAD", "polish").status


def test_a_clone_that_knows_no_default_branch_asks_for_one(
    proposal: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Compared with the work tree, a pull request of a one-branch clone would always pass."""
    proposal.git("init", "--quiet", "--initial-branch=proposal", str(tmp_path / "ci"))
    ci = tmp_path / "ci"
    proposal.git("-C", str(ci), "remote", "add", "origin", str(proposal.path))
    proposal.git("-C", str(ci), "fetch", "--quiet", "origin", "proposal")
    proposal.git("-C", str(ci), "checkout", "--quiet", "FETCH_HEAD")
    monkeypatch.chdir(ci)

    said = run(capsys, "review")

    words = "this clone has no default branch to compare with; name one: git formula review REV"
    assert (2, f"git formula: {words}\n") == (said.status, said.err)


def test_a_figure_is_listed_for_who_asks(proposal: Any, capsys: Capsys) -> None:
    """Folded away it is counted; named, or all of them, it stands in the list; json always has it."""
    plain, named, every = (
        run(capsys, "review", *more).out for more in ((), ("--figure", "water_activity"), ("--figure", "all"))
    )

    assert "water activity (estimate)" not in plain
    assert "(--figure all)" in plain
    assert "water activity (estimate)" in named
    assert "density (estimate)" not in named
    assert "density (estimate)" in every
    assert "(--figure all)" not in every
    data = run(capsys, "review", "--format", "json").json("diff")
    listed = {effect["figure"]: effect["listed"] for effect in data["recipes"][0]["effects"]}
    assert ("priced", "") == (listed["cost_per_kg"], listed["water_activity"])


def test_a_figure_that_there_is_not(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review", "--figure", "wateractivity")

    assert 2 == said.status
    assert "no figure is called 'wateractivity'; did you mean 'water_activity'?" in said.err
