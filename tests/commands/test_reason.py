"""When the commit-msg hook asks for a reason, and what it offers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main


@pytest.fixture
def asked(
    git_repo: Callable[..., Any],
    minimal: dict[str, str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> Callable[..., tuple[int, str]]:
    """Give a runner: stage files on the minimal workspace, and ask about a message."""
    repo = git_repo()
    repo.commit("Begin", minimal)
    monkeypatch.chdir(repo.path)

    def ask(message: str, files: dict[str, str], *options: str) -> tuple[int, str]:
        repo.write(files)
        repo.git("add", "--all")
        file = tmp_path / "message"
        file.write_text(message, encoding="utf-8")
        status = main(["reason", *options, str(file)])
        return status, capsys.readouterr().err

    return ask


def sweeter(minimal: dict[str, str]) -> dict[str, str]:
    """Give the recipe with more glycerin."""
    return {"cream.toml": minimal["cream.toml"].replace("5.00", "6.00")}


def test_a_changed_composition_is_asked_about(asked: Callable[..., tuple[int, str]], minimal: dict[str, str]) -> None:
    """The hook asks, offers the summary, and lets the commit pass; required, it refuses."""
    status, said = asked("More glycerin", sweeter(minimal))

    assert 0 == status
    assert "cream: glycerin (A): 5.00 → 6.00 %, +1.00 points (+20 % of it)" in said

    assert 1 == asked("More glycerin", sweeter(minimal), "--required")[0]


def test_a_workspace_can_require_it(asked: Callable[..., tuple[int, str]], minimal: dict[str, str]) -> None:
    """The line reason = "required" in workspace.toml is the same as the option."""
    files = {**sweeter(minimal), "workspace.toml": minimal["workspace.toml"] + 'reason = "required"\n'}

    assert 1 == asked("More glycerin", files)[0]
    assert (0, "") == asked("More glycerin\n\nReason: it was dry", files)


@pytest.mark.parametrize("message", ["Merge branch 'x'", 'Revert "More"', "fixup! More", "# a comment\nMerge x"])
def test_what_carries_its_own_reason_passes(
    asked: Callable[..., tuple[int, str]], minimal: dict[str, str], message: str
) -> None:
    """Merges, reverts and fixups are not asked."""
    assert (0, "") == asked(message, sweeter(minimal), "--required")


def test_an_empty_reason_is_none(asked: Callable[..., tuple[int, str]], minimal: dict[str, str]) -> None:
    """Nor is one in a comment line."""
    assert 1 == asked("More\n\nReason:   \n# Reason: no\n", sweeter(minimal), "--required")[0]


def test_other_changes_need_no_reason(asked: Callable[..., tuple[int, str]], minimal: dict[str, str]) -> None:
    """A title, a price, a new recipe: nothing that was there before has another composition."""
    files = {
        "cream.toml": minimal["cream.toml"].replace('title = "Cream"', 'title = "Rich cream"'),
        "second.toml": minimal["cream.toml"],
        "ingredients/glycerin.toml": minimal["ingredients/glycerin.toml"].replace("2.00 EUR", "1.80 EUR"),
    }

    assert (0, "") == asked("Names and prices", files, "--required")


def test_a_message_that_cannot_be_read_is_a_clear_line(
    asked: Callable[..., tuple[int, str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """The command's input is wrong: status 2."""
    assert 2 == main(["reason", "/no/such/file"])
    assert "cannot be read: No such file or directory" in capsys.readouterr().err
