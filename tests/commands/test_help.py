"""``git formula help``: the chapters of the manual, through the pager of git on a terminal."""

from __future__ import annotations

import os
import pty
import re
import sys
from pathlib import Path
from subprocess import Popen

import pytest

from formula_vcs.cli import main
from formula_vcs.setup.chapters import chapters

Capsys = pytest.CaptureFixture[str]
COMPLETIONS = Path(__file__).resolve().parents[2] / "formula_vcs" / "manual" / "completions"


def test_without_a_topic_it_lists_the_chapters(capsys: Capsys) -> None:
    assert main(["help"]) == 0
    assert re.findall(r"^  ([a-z-]+) ", capsys.readouterr().out, re.MULTILINE) == list(chapters())


@pytest.mark.parametrize("asked", [["two-at-once"], ["Two", "people", "at", "once"], ["two"], ["two-at-once.md"]])
def test_a_chapter_is_found_by_its_topic_title_or_beginning(asked: list[str], capsys: Capsys) -> None:
    assert main(["help", *asked]) == 0
    assert "Two people at once\n====" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("paris", "the manual has no chapter 'paris'; did you mean 'pairs'?"),
        ("xyzzy", "the manual has no chapter 'xyzzy'; git formula help lists them"),
        ("de", "the manual has no chapter 'de'; did you mean 'deadlines' or 'deceptive-names'?"),
        ("../../etc/passwd", "the manual has no chapter '../../etc/passwd'; git formula help lists them"),
    ],
)
def test_a_wrong_topic_ends_with_2_and_names_the_nearest(asked: str, said: str, capsys: Capsys) -> None:
    assert main(["help", asked]) == 2
    assert capsys.readouterr().err == f"git formula: {said}\n"


def test_the_completions_offer_the_topics() -> None:
    topics = " ".join(chapters())

    assert f'\thelp,*)\n\t\t__gitcomp "{topics}"\n' in (COMPLETIONS / "git-formula.bash").read_text("utf-8")
    assert f"'1:topic:({topics})'" in (COMPLETIONS / "_git-formula").read_text("utf-8")


def _on_a_terminal(pager: str, tmp_path: Path) -> tuple[int, str]:
    ours, theirs = pty.openpty()
    surroundings = {name: value for name, value in os.environ.items() if name != "LESS"}
    program = [sys.executable, "-m", "formula_vcs", "help", "pairs"]
    with Popen(program, stdout=theirs, cwd=tmp_path, env={**surroundings, "GIT_PAGER": pager}) as running:
        os.close(theirs)
        said = b""
        try:
            while part := os.read(ours, 65536):
                said += part
        except OSError:  # the other end of a terminal that is closed
            pass
        os.close(ours)
    return running.returncode, said.decode("utf-8").replace("\r\n", "\n")


def test_on_a_terminal_the_pager_of_git_shows_it(tmp_path: Path) -> None:
    assert _on_a_terminal("sed -n 1p; echo $LESS", tmp_path) == (0, "What does not go together\nFRX\n")


@pytest.mark.parametrize("pager", ["cat", "there-is-no-such-pager"])
def test_without_a_pager_the_text_is_there_all_the_same(pager: str, tmp_path: Path) -> None:
    status, said = _on_a_terminal(pager, tmp_path)

    assert status == 0
    assert "What does not go together\n====" in said


def test_a_pager_that_is_left_early_is_no_error(tmp_path: Path) -> None:
    assert _on_a_terminal("true", tmp_path) == (0, "")
