"""``git formula check``: what the last line counts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from formula_vcs.snapshot import kind_of
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
