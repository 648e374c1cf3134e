"""``batch record`` as a person types it: a real terminal, wrong words, Ctrl-C in the middle."""

from __future__ import annotations

import os
import pty
import select
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from formula_vcs.cli import main
from formula_vcs.model.batch import Batch
from formula_vcs.toml.batch_edit import facts_in
from tests.commands.test_batch_record import FILES
from tests.conftest import GitRepo

ROOT = Path(__file__).resolve().parents[2]
_RUN = "import sys; sys.path.insert(0, sys.argv[1]); from formula_vcs.cli import main; sys.exit(main(sys.argv[2:]))"
_PATIENCE = 20.0
CTRL_C, CTRL_D = "\x03", "\x04"


class Terminal:
    """A command in a terminal of its own: what it says, what is typed into it, how it ends."""

    def __init__(self, folder: Path, *words: str) -> None:
        self._seen = ""
        self._process, self._screen = pty.fork()
        if self._process == 0:
            os.chdir(folder)
            os.execv(sys.executable, [sys.executable, "-c", _RUN, str(ROOT), *words])  # noqa: S606 - no shell is wanted

    def until(self, words: str) -> None:
        """Wait for words; what comes after them is for the next one who waits."""
        ends = time.monotonic() + _PATIENCE
        while words not in self._seen and time.monotonic() < ends:
            if select.select([self._screen], [], [], 0.1)[0]:
                try:
                    self._seen += os.read(self._screen, 4096).decode()
                except OSError:  # the other end is closed
                    break
        assert words in self._seen, self._seen
        self._seen = self._seen.partition(words)[2]

    def types(self, words: str) -> None:
        os.write(self._screen, words.encode())

    def status(self) -> int:
        """Wait for its end: the exit status, or minus the signal that ended it."""
        return os.waitstatus_to_exitcode(os.waitpid(self._process, 0)[1])


@pytest.fixture
def shed(git_repo: Callable[..., GitRepo], monkeypatch: pytest.MonkeyPatch) -> GitRepo:
    """Give a workspace with one open batch of 10 kg."""
    repo = git_repo(FILES)
    monkeypatch.chdir(repo.path)
    assert main(["batch", "cream", "--size", "10 kg", "--date", "2026-03-04", "--id", "c-1"]) == 0
    return repo


def batch(repo: GitRepo) -> Batch:
    return Batch("c-1", facts_in((repo.path / "batches" / "c-1.toml").read_text("utf-8")))


def test_wrong_words_are_asked_again_and_ctrl_c_keeps_what_was_answered(shed: GitRepo) -> None:
    terminal = Terminal(shed.path, "batch", "record", "c-1")
    terminal.until("made by: ")
    terminal.types("Una\n")
    terminal.until("A/water, Water: lot: ")
    terminal.types("w-9\n")
    terminal.until("written, but: there is no file of lot 'w-9'")
    terminal.until("weighed [9.5000 kg]: ")
    for wrong, words in (("9499", "has no unit"), ("9.5 g", "about a thousandth of its target"), ("=", "a number")):
        terminal.types(f"{wrong}\n")
        terminal.until(words)
        terminal.until("weighed [9.5000 kg]: ")
    terminal.types("9499 g\n")
    terminal.until("A/glycerin, Glycerin: lot: ")
    terminal.types("g-1\n")
    terminal.until("weighed [500.0 g]: ")
    terminal.types(f"50{CTRL_C}")
    terminal.until("what was answered before is written")

    assert terminal.status() in (-2, 130)
    kept = batch(shed)
    assert "Una" == kept.made_by
    rows = [row for charge in kept.charges for row in charge.weighings]
    assert [("w-9", "9499 g"), ("g-1", "None")] == [(row.lot, str(row.weighed)) for row in rows]
    assert [] == [path.name for path in (shed.path / "batches").iterdir() if path.name != "c-1.toml"]


def test_the_end_of_the_input_leaves_the_rest_to_be_asked_later(shed: GitRepo) -> None:
    terminal = Terminal(shed.path, "batch", "record", "batches/c-1.toml")
    terminal.until("made by: ")
    terminal.types("Una\n")
    terminal.until("lot: ")
    terminal.types(CTRL_D)
    terminal.until("still to be weighed, 2 of 2 charges")

    assert 0 == terminal.status()
    assert "Una" == batch(shed).made_by
