"""``git formula check``: what the last line counts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from formula_vcs.cli import main
from formula_vcs.workspace.snapshot import kind_of
from tests.commands.bench_repo import SHOP, run


@pytest.mark.parametrize(
    ("paths", "counted"),
    [
        ((), f"{sum(kind_of(path) == 'recipe' for path in SHOP)} recipes: "),
        (("polish.toml",), "1 recipe: "),
        (("ingredients",), "0 recipes: "),
    ],
)
def test_only_the_recipes_that_were_asked_about_are_counted(
    git_repo: Callable[..., Any],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    paths: tuple[str, ...],
    counted: str,
) -> None:
    monkeypatch.chdir(git_repo(SHOP).path)

    said = run(capsys, "check", *paths)

    assert any(line.startswith(counted) for line in said.out.splitlines())


def test_a_hook_says_no_notes(
    git_repo: Callable[..., Any],
    minimal: dict[str, str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """At a commit only what blocks or warns is said; the check that a person types says the notes too."""
    recipe = minimal["cream.toml"].split("[[step]]")[0].replace("glycerin = 5.00", "glycerin = 70.00")
    repo = git_repo({**minimal, "cream.toml": recipe})
    repo.git("add", "--all")
    monkeypatch.chdir(repo.path)

    assert main(["check", "--staged", "--hook"]) == 0
    assert capsys.readouterr().out == ""

    assert main(["check", "--staged"]) == 0
    assert "note [no-process]" in capsys.readouterr().out
