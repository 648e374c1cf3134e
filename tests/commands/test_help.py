"""``git formula help``: the chapters of the manual."""

from __future__ import annotations

import re
from pathlib import Path

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
        ("pairz", "the manual has no chapter 'pairz'; did you mean 'pairs'?"),
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
