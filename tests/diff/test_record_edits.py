"""Which commits edit a closed record: plain edits, merges that bring one, merges that make one, renames, reopening."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import pytest

from formula_vcs.evidence.pinned_versions import judge_records
from formula_vcs.git import repository
from formula_vcs.git.blobs import blob_id
from formula_vcs.workspace.snapshot import Snapshot, WorkTree
from tests.conftest import MINIMAL, GitRepo

FILE = "batches/c-1.toml"
OPEN = 'recipe = "cream"\nsize = "1 kg"\ndate = 2026-03-04\n'
CLOSED = f'{OPEN}closed = 2026-03-05\nmade = "1 kg"\n'
EDITED = CLOSED.replace('made = "1 kg"', 'made = "0.9 kg"')
DAY = datetime.date(2026, 4, 1)


@pytest.fixture
def repo(git_repo: Callable[..., GitRepo]) -> GitRepo:
    """Give a workspace with a record that was made and then closed."""
    made = git_repo({**MINIMAL, FILE: OPEN})
    made.commit("close it", {FILE: CLOSED})
    return made


def accused(path: Path) -> list[str]:
    """Give the subjects of the commits that are named for an edit."""
    found = judge_records(Snapshot(WorkTree(path, "")), repository.open_repo(path, inherit=False), DAY)
    return [item.message.partition("since: ")[2].rpartition(": ")[2] for item in found if item.rule == "batch-edited"]


def beside(repo: GitRepo, text: str) -> None:
    """Commit the record's text on a branch, and something else on the one that is checked out."""
    repo.git("checkout", "-qb", "beside")
    repo.commit("on a branch", {FILE: text})
    repo.git("checkout", "-q", "-")
    repo.commit("meanwhile", {"note.txt": "x"})


def test_closing_and_layout_are_no_edits(repo: GitRepo) -> None:
    """Also where the name of the content has no 0 in it, as one in thirteen has."""
    texts = [f"# looked at, {number}\n{CLOSED}" for number in range(60)]
    names = [blob_id(text.encode()) for text in texts]
    without = next(text for text, name in zip(texts, names, strict=True) if "0" not in name)
    repo.commit("a comment", {FILE: without})
    repo.commit("another", {FILE: texts[0]})

    assert [] == accused(repo.path)


def test_an_edit_and_what_puts_it_back_are_named(repo: GitRepo) -> None:
    repo.commit("polish", {FILE: EDITED})
    repo.commit("put back", {FILE: CLOSED})

    assert ["polish", "put back"] == sorted(accused(repo.path))


def test_what_is_not_committed_is_named_too(repo: GitRepo) -> None:
    (repo.path / FILE).write_text(EDITED)

    assert ["what lies here differs from the last commit"] == accused(repo.path)


def test_a_merge_that_brings_an_edit_is_not_accused_of_it(repo: GitRepo) -> None:
    beside(repo, EDITED)
    repo.git("merge", "-q", "--no-ff", "-m", "merge it", "beside")

    assert ["on a branch"] == accused(repo.path)


def test_a_merge_that_edits_is_named(repo: GitRepo) -> None:
    beside(repo, f"# a comment\n{CLOSED}")
    repo.git("merge", "-q", "--no-ff", "--no-commit", "beside")
    repo.commit("merge and more", {FILE: EDITED})

    assert ["merge and more"] == accused(repo.path)


def test_a_merge_that_opens_it_again_is_named(repo: GitRepo) -> None:
    beside(repo, f"# a comment\n{CLOSED}")
    repo.git("merge", "-q", "--no-ff", "--no-commit", "beside")
    repo.commit("merge and open", {FILE: OPEN})

    assert ["merge and open"] == accused(repo.path)


def test_a_record_closed_on_a_branch_is_not_edited_by_its_merge(git_repo: Callable[..., GitRepo]) -> None:
    repo = git_repo({**MINIMAL, FILE: OPEN})
    beside(repo, CLOSED)
    repo.git("merge", "-q", "--no-ff", "-m", "merge it", "beside")

    assert [] == accused(repo.path)


def test_a_new_name_is_no_way_around(repo: GitRepo) -> None:
    repo.git("mv", FILE, "batches/c-2.toml")
    repo.commit("another name", {"batches/c-2.toml": EDITED})

    assert ["another name"] == accused(repo.path)


def test_amending_the_closing_commit_is_closing_it(repo: GitRepo) -> None:
    """Nobody else saw the first one: a history that was rewritten has no edit in it."""
    (repo.path / FILE).write_text(EDITED)
    repo.git("commit", "-q", "-a", "--amend", "-m", "close it")

    assert [] == accused(repo.path)
