"""`git formula check --merge A B`: judged without being made."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.git.would_merge import would_merge
from tests.git.helpers_git import Scratch, picture, scratch, settle
from tests.git.helpers_merge import CREAM, armed, branch, program

OIL = "# pressed cold\noil = 6.00\n"
MOVED = CREAM.replace(OIL, "").replace("[phase.C.charge]\n", f"[phase.C.charge]\n{OIL}")
RAISED = CREAM.replace("oil = 6.00\n", "oil = 7.00\n")
BENZOATE = CREAM.replace("wax = 2.00\n", "wax = 2.00\nbenzoate = 0.30\n")
SORBATE = CREAM.replace("glycerin = 4.00   # humectant\n", "glycerin = 4.00   # humectant\nsorbate = 0.30\n")


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Scratch:
    """A clone with pairs of branches, on main."""
    settle(monkeypatch, tmp_path)
    program(tmp_path / "bin")
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:/usr/local/bin:/usr/bin:/bin")
    made = armed(tmp_path / "r", "recipes")
    for name, text in (("move", MOVED), ("raise", RAISED), ("benzoate", BENZOATE), ("sorbate", SORBATE)):
        branch(made, name, {"recipes/cream.toml": text})
    made.git("checkout", "-q", "main")
    return made


def check(made: Scratch, *words: str) -> tuple[int, list[dict[str, Any]]]:
    done = made.run("git-formula", "check", "--format", "json", "--merge", *words)
    assert done.returncode in (0, 1), done.stderr
    return done.returncode, json.loads(done.stdout)["findings"]


def blocking(findings: list[dict[str, Any]]) -> list[tuple[str, str]]:
    return [(item["rule"], item["file"]) for item in findings if item["severity"] == "block"]


def test_nothing_is_touched(repo: Scratch) -> None:
    before = picture(repo.top)
    check(repo, "move", "raise")
    check(repo, "benzoate", "sorbate")

    assert before == picture(repo.top)


def test_what_only_clashes_as_text_is_a_warning(repo: Scratch) -> None:
    status, findings = check(repo, "raise", "move")

    assert status == 0
    assert blocking(findings) == []
    warned = [item["message"] for item in findings if item["rule"] == "conflict"]
    assert len(warned) == 1
    assert warned[0].startswith("merging raise and move: only its lines clash")
    assert 1 == repo.run("git-formula", "check", "--merge", "raise", "move", "--fail-on", "warn").returncode


def test_two_legal_edits_that_break_together_name_both(repo: Scratch) -> None:
    status, findings = check(repo, "benzoate", "sorbate")

    assert status == 1
    assert blocking(findings) == [("limit", "recipes/cream.toml")]
    words = next(item["message"] for item in findings if item["severity"] == "block")
    assert "benzoate: benzoate (B): added, 0.30 %" in words
    assert "sorbate: sorbate (A): added, 0.30 %" in words


def test_a_conflict_stands_at_its_line(repo: Scratch) -> None:
    branch(repo, "more", {"recipes/cream.toml": RAISED.replace("7.00", "8.00").replace('"5 min"', '"6 min"', 1)})
    branch(repo, "less", {"recipes/cream.toml": RAISED.replace("7.00", "5.00").replace('"5 min"', '"4 min"', 1)})
    _, findings = check(repo, "more", "less")
    lines = RAISED.split("\n")

    assert [item["line"] for item in findings if item["rule"] == "conflict"] == [
        lines.index("oil = 7.00") + 1,
        lines.index('id    = "join"'),  # its [[step]] is the line above
    ]


def test_commits_are_called_as_they_were_named(repo: Scratch) -> None:
    repo.git("checkout", "-q", "-b", "gone", "main")
    repo.git("rm", "-q", "recipes/cream.toml")
    repo.git("commit", "-qm", "no cream")
    _, findings = check(repo, "gone", "raise")
    words = next(item["message"] for item in findings if item["rule"] == "conflict")

    assert "deleted in gone and modified in raise" in words


def test_a_contradiction_blocks_in_words(repo: Scratch) -> None:
    branch(repo, "eight", {"recipes/cream.toml": CREAM.replace("oil = 6.00", "oil = 8.00")})
    status, findings = check(repo, "raise", "eight")

    assert status == 1
    assert blocking(findings) == [("conflict", "recipes/cream.toml")]
    assert "its amount became 7.00 % and 8.00 % (was 6.00 %)" in str(findings)


def test_what_a_text_merge_would_pass_is_said(repo: Scratch) -> None:
    """The same new ingredient in two phases: no line clashes."""
    branch(repo, "b", {"recipes/cream.toml": BENZOATE.replace("benzoate = 0.30", "benzoate = 0.10")})
    late = CREAM.replace("scent = 0.10\n", "scent = 0.10\nbenzoate = 0.10\n")
    branch(repo, "c", {"recipes/cream.toml": late})
    status, findings = check(repo, "b", "c")

    assert status == 1
    assert ("conflict", "recipes/cream.toml") in blocking(findings)
    assert "added to two phases, B and C; a text merge would pass it" in str(findings)


def test_what_breaks_across_files(repo: Scratch) -> None:
    """One branch takes an ingredient's file away, the other uses it."""
    repo.git("checkout", "-q", "-b", "without", "main")
    repo.git("rm", "-q", "recipes/ingredients/benzoate.toml")
    repo.git("commit", "-qm", "nobody uses it")
    status, findings = check(repo, "without", "benzoate")

    assert status == 1
    assert blocking(findings)[0] == ("reference", "recipes/cream.toml")


def test_the_hook_before_a_merge_commit_finds_it_too(repo: Scratch) -> None:
    repo.run("git-formula", "init", "--hooks", "plain", "recipes")
    repo.git("checkout", "-q", "-b", "without", "main")
    repo.git("rm", "-q", "recipes/ingredients/benzoate.toml")
    repo.git("commit", "-qnm", "nobody uses it")
    done = repo.run("git", "merge", "--no-edit", "benzoate")

    assert done.returncode != 0
    assert b"[reference]" in done.stdout + done.stderr
    assert repo.git("rev-parse", "HEAD") == repo.git("rev-parse", "without")


def test_a_deleted_file_that_the_other_side_changed(repo: Scratch) -> None:
    repo.git("checkout", "-q", "-b", "gone", "main")
    repo.git("rm", "-q", "recipes/cream.toml")
    repo.git("commit", "-qm", "no cream")
    status, findings = check(repo, "gone", "raise")

    assert status == 1
    assert ("conflict", "recipes/cream.toml") in blocking(findings)


def test_a_bare_repository_and_a_detached_head(repo: Scratch, tmp_path: Path) -> None:
    bare = scratch(tmp_path / "bare", "--bare")
    bare.git("fetch", "-q", str(repo.top), "refs/heads/*:refs/heads/*")
    repo.git("checkout", "-q", "--detach", "raise")

    assert check(repo, "benzoate", "sorbate") == check(bare, "benzoate", "sorbate")


def test_a_clone_that_is_not_armed_says_the_same(repo: Scratch, tmp_path: Path) -> None:
    repo.git("clone", "-q", ".", str(tmp_path / "clone"))
    clone = Scratch(tmp_path / "clone")

    assert blocking(check(clone, "origin/benzoate", "origin/sorbate")[1]) == [("limit", "recipes/cream.toml")]


@pytest.mark.parametrize("words", [("nowhere", "raise"), ("raise", "nowhere")])
def test_an_unknown_revision_is_wrong_use(repo: Scratch, words: tuple[str, str]) -> None:
    done = repo.run("git-formula", "check", "--merge", *words)

    assert done.returncode == 2
    assert b"unknown revision 'nowhere'" in done.stderr


def test_nothing_in_common_is_said(repo: Scratch) -> None:
    repo.git("checkout", "-q", "--orphan", "alone")
    repo.git("commit", "-qm", "alone")
    done = repo.run("git-formula", "check", "--merge", "alone", "raise")

    assert done.returncode == 2
    assert b"no commit in common" in done.stderr


def test_an_older_git_is_refused_in_words(repo: Scratch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A git that does not know `merge-tree --write-tree` prints how it is used and ends with 129."""
    old = tmp_path / "old" / "git"
    old.parent.mkdir()
    real = shutil.which("git")
    old.write_text(
        f'#!/bin/sh\nfor word in "$@"; do [ "$word" = merge-tree ] && {{ echo usage >&2; exit 129; }}; done\n'
        f'exec "{real}" "$@"\n'
    )
    old.chmod(0o755)
    monkeypatch.setenv("PATH", f"{old.parent}:{os.environ['PATH']}")
    merge = would_merge(repository.open_repo(repo.top), "raise", "move")

    with pytest.raises(UserError, match=r"git 2\.38 or later is needed"), merge:
        pass


@pytest.mark.parametrize("guard", ["block", "warn", None])
def test_a_merge_that_takes_the_workspace_away_judges_nothing_and_says_so(repo: Scratch, guard: str | None) -> None:
    repo.git("checkout", "-q", "-b", "blind")
    repo.git("mv", "recipes/workspace.toml", "recipes/Workspace.toml")
    repo.git("commit", "-q", "-m", "tidy up")

    status, findings = check(repo, "main", "blind", *(("--guard", guard) if guard else ()))

    (said,) = [item for item in findings if item["rule"] == "guard-extent"]
    assert "nothing here is judged any more" in said["message"]
    assert ("warn" if guard == "warn" else "block") == said["severity"]
    assert status == (guard != "warn")
