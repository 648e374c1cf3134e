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


def test_a_hook_says_what_the_commit_brings_and_counts_the_rest(
    git_repo: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Old warnings are a number; what gets worse is said; what blocks is said whoever brought it."""
    head = 'title = "P"\nproduct = "lip balm"\nform = "anhydrous"\n'
    product = head + '[phase.A.charge]\noil = 60\nbmdm = {}\nextra = "to 100"\n{}'
    step = '[[step]]\nid = "s"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'
    material = 'title = "{0}"\n[substances]\n"{0}" = 100\n'
    files = {
        "workspace.toml": 'title = "W"\n',
        "a.toml": product.format(3, step),
        "ingredients/oil.toml": material.format("Simmondsia Chinensis Seed Oil"),
        "ingredients/extra.toml": material.format("Ricinus Communis Seed Oil"),
        "ingredients/bmdm.toml": material.format("Butyl Methoxydibenzoylmethane"),
    }
    repo = git_repo(files)
    monkeypatch.chdir(repo.path)
    hook = ["check", "--staged", "--hook"]
    capsys.readouterr()

    assert 0 == main(hook)
    before = capsys.readouterr().out
    assert "[incompatible]" not in before
    assert "before this commit already ('git formula check')\n" in before

    repo.write({"b.toml": files["a.toml"]})
    repo.git("add", "-A")
    assert 0 == main(hook)
    said = capsys.readouterr().out
    assert "b.toml:6:1: warn [incompatible]" in said
    assert "a.toml:6:1" not in said

    repo.write({"a.toml": product.format(3, step).replace("oil = 60", "oil = 600")})
    repo.git("add", "-A")
    assert 1 == main(hook)
    assert "a.toml" in capsys.readouterr().out
