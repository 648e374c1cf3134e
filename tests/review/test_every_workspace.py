"""No workspace of a repository is switched off by another, and what leaves the judged is said, in real git."""

from __future__ import annotations

from pathlib import Path

import pytest

from formula_vcs.cli import main
from tests.conftest import MINIMAL, GitRepo

BROKEN = MINIMAL["cream.toml"].replace("glycerin = 5.00", "glycerin = 500")


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> GitRepo:
    """Give a repository with a workspace in `recipes/` that passes."""
    repo = GitRepo(tmp_path)
    repo.commit("first", {f"recipes/{path}": text for path, text in MINIMAL.items()})
    monkeypatch.chdir(tmp_path)
    return repo


def test_a_workspace_above_switches_none_off(repo: GitRepo, capsys: pytest.CaptureFixture[str]) -> None:
    repo.commit("all our brands", {"workspace.toml": 'title = "All our brands"\n', "recipes/cream.toml": BROKEN})

    assert 1 == main(["check", "--rev", "HEAD"])
    assert "recipes/cream.toml" in capsys.readouterr().out
    assert 1 == main(["check"])
    assert 1 == main(["review", "HEAD~1..HEAD"])
    assert "cream" in capsys.readouterr().out


def test_a_workspace_inside_is_judged_as_well(repo: GitRepo, capsys: pytest.CaptureFixture[str]) -> None:
    inner = {f"recipes/brand-b/{path}": text for path, text in MINIMAL.items()}
    repo.commit("a copied brand", {**inner, "recipes/brand-b/cream.toml": BROKEN})

    assert 1 == main(["check", "--rev", "HEAD"])
    assert "recipes/brand-b/cream.toml" in capsys.readouterr().out
    assert 1 == main(["check"])
    assert 1 == main(["review", "HEAD~1..HEAD"])


def test_a_path_is_of_the_innermost_workspace(repo: GitRepo, capsys: pytest.CaptureFixture[str]) -> None:
    repo.commit("two", {f"recipes/brand-b/{path}": text for path, text in MINIMAL.items()})

    assert 0 == main(["check", "recipes/brand-b/cream.toml"])
    assert "1 recipe:" in capsys.readouterr().out


@pytest.mark.parametrize("to", ["cream.TOML", "cream.txt", ".cream.toml", ".x/cream.toml", "pyproject.toml"])
def test_a_recipe_that_is_hidden_is_said_and_can_be_held_back(
    repo: GitRepo, capsys: pytest.CaptureFixture[str], to: str
) -> None:
    (repo.path / "recipes" / to).parent.mkdir(exist_ok=True)
    repo.git("mv", "recipes/cream.toml", f"recipes/{to}")
    repo.commit("tidy")

    status = main(["review", "--guard", "block", "HEAD~1..HEAD"])
    said = capsys.readouterr().out

    assert 1 == status
    assert "guard-extent" in said
    assert said.index("Loosened here") < said.index("removed")


def test_a_recipe_that_moves_under_another_workspace_is_said(repo: GitRepo, capsys: pytest.CaptureFixture[str]) -> None:
    (repo.path / "recipes" / "sub").mkdir()
    repo.git("mv", "recipes/cream.toml", "recipes/sub/cream.toml")
    repo.commit("of its own", {"recipes/sub/workspace.toml": 'title = "Sub"\n'})

    main(["review", "HEAD~1..HEAD"])

    assert "lies in a workspace of its own" in " ".join(capsys.readouterr().out.split())


def test_the_commit_hook_warns(repo: GitRepo, capsys: pytest.CaptureFixture[str]) -> None:
    repo.write({"recipes/cream.toml": 'claims = ["natural at least 1 %"]\n' + MINIMAL["cream.toml"]})
    repo.commit("a claim")
    repo.write({"recipes/cream.toml": MINIMAL["cream.toml"]})
    repo.git("add", "--all")

    assert 0 == main(["check", "--staged", "--hook"])
    assert "warn [guard-claim]" in capsys.readouterr().out
