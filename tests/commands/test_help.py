"""``git formula help``: the chapters of the manual."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from formula_vcs.cli import main
from formula_vcs.setup.shipped import chapters

Capsys = pytest.CaptureFixture[str]


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


def test_the_whole_manual_is_one_page_that_needs_no_network(tmp_path: Path) -> None:
    file = tmp_path / "manual.html"

    assert main(["help", "--html", str(file)]) == 0
    page = file.read_text("utf-8")
    assert [f'id="{topic}"' in page for topic in chapters()] == [True] * len(chapters())
    assert re.findall(r"(?:src|srcset)=|url\(|@import|<script|<link", re.sub(r"url\(#", "(#", page)) == []


def test_there_is_a_page_for_man_of_every_chapter(tmp_path: Path, capsys: Capsys) -> None:
    assert main(["help", "--man", str(tmp_path / "new" / "man")]) == 0
    found = sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.[17]"))

    expected = ["new/man/man1/git-formula.1", *(f"new/man/man7/git-formula-{topic}.7" for topic in chapters())]
    assert found == sorted(expected)
    assert "MANPATH=" in capsys.readouterr().out


def test_pages_for_man_are_refused_where_a_file_is_in_the_way(tmp_path: Path, capsys: Capsys) -> None:
    (tmp_path / "file").write_text("mine")

    assert main(["help", "--man", str(tmp_path / "file")]) == 2
    assert "cannot hold the pages" in capsys.readouterr().err
    assert (tmp_path / "file").read_text() == "mine"


@pytest.mark.parametrize("option", ["--html", "--man"])
def test_the_whole_manual_and_one_topic_are_not_asked_for_at_once(option: str, tmp_path: Path, capsys: Capsys) -> None:
    assert main(["help", option, str(tmp_path / "x"), "law"]) == 2
    assert "leave the topic out" in capsys.readouterr().err
