"""What is to be read goes through git's pager on a terminal, and nowhere else."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import sys
import termios
from collections.abc import Callable
from pathlib import Path
from subprocess import PIPE, Popen

import pytest

from tests.conftest import MINIMAL, GitRepo


def _on_a_terminal(pager: str | None, folder: Path, *words: str, columns: int = 80) -> tuple[int, str]:
    """Run a command whose stdout is a terminal; give its exit status and what stood on the terminal."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    around = {name: value for name, value in os.environ.items() if name not in ("LESS", "COLUMNS", "GIT_PAGER")}
    around |= {} if pager is None else {"GIT_PAGER": pager}
    program = [sys.executable, "-m", "formula_vcs", *words]
    with Popen(program, stdout=theirs, stderr=PIPE, cwd=folder, env=around) as running:
        os.close(theirs)
        said = b""
        try:
            while part := os.read(ours, 65536):
                said += part
        except OSError:  # the other end of a terminal that is closed
            pass
        os.close(ours)
    return running.returncode, said.decode("utf-8").replace("\r\n", "\n")


@pytest.fixture
def cream(git_repo: Callable[..., GitRepo]) -> GitRepo:
    return git_repo(MINIMAL)


def test_the_pager_of_git_shows_it(tmp_path: Path) -> None:
    said = _on_a_terminal("sed -n 1p; echo $LESS $GIT_PAGER_IN_USE", tmp_path, "help", "pairs")

    assert said == (0, "What does not go together\nFRX true\n")


@pytest.mark.parametrize("pager", ["cat", "there-is-no-such-pager", "", "'"])
def test_without_a_pager_the_text_is_there_all_the_same(pager: str, tmp_path: Path) -> None:
    status, said = _on_a_terminal(pager, tmp_path, "help", "pairs")

    assert status == 0
    assert said.startswith("What does not go together\n====")


@pytest.mark.parametrize("pager", ["true", "head -n 0", "false"])
def test_a_pager_that_is_left_early_is_no_error(pager: str, tmp_path: Path) -> None:
    assert _on_a_terminal(pager, tmp_path, "help", "keys") == (0, "")


def test_the_pager_that_the_repository_names_is_taken(cream: GitRepo) -> None:
    cream.git("config", "core.pager", "sed s/^/:/")

    status, said = _on_a_terminal(None, cream.path, "list")

    assert status == 0
    assert said
    assert all(line.startswith(":") for line in said.splitlines())


def test_the_exit_status_is_that_of_the_command(cream: GitRepo) -> None:
    text = (cream.path / "cream.toml").read_text("utf-8")
    (cream.path / "cream.toml").write_text(text.replace("title", "titel", 1))

    status, said = _on_a_terminal("sed s/^/:/", cream.path, "check")

    assert status == 1
    assert "titel" in said
    assert all(line.startswith(":") for line in said.splitlines())


def test_what_a_hook_says_is_not_paged(cream: GitRepo) -> None:
    (cream.path / "cream.toml").write_text("titel = 1\n")
    cream.git("add", ".")

    status, said = _on_a_terminal("sed s/^/:/", cream.path, "check", "--staged", "--hook")

    assert status == 1
    assert not said.startswith(":")


def test_a_wrong_word_is_said_and_nothing_is_paged(tmp_path: Path) -> None:
    assert _on_a_terminal("echo paged", tmp_path, "help", "--no-such") == (2, "")


def test_the_columns_of_the_terminal_are_known_behind_the_pager(tmp_path: Path) -> None:
    assert _on_a_terminal("echo $COLUMNS", tmp_path, "help", columns=132) == (0, "132\n")
