"""Commits, trees and files through one git process, and what is not there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.git.objects import Objects

Make = Callable[..., Any]


@pytest.fixture
def repo(git_repo: Make) -> Any:
    """Give a repository with files in folders, a name with a blank, a link and a hidden folder."""
    made = git_repo()
    made.commit("one", {"a.toml": "a", "shop/b c.toml": "b", "shop/deep/c.toml": "c", "shop/.hidden/d.toml": "d"})
    (made.path / "shop/link.toml").symlink_to("b c.toml")
    made.commit("two", {"shop/deep/c.toml": "c2"})
    return made


@pytest.fixture
def objects(repo: Any) -> Iterator[Objects]:
    """Give a reader, closed at the end."""
    found = Objects(repository.open_repo(repo.path, inherit=False))
    yield found
    found.blobs.close()


@pytest.mark.parametrize("under", ["", "shop", "shop/deep"])
@pytest.mark.parametrize("revision", ["HEAD", "HEAD~1"])
def test_it_lists_what_ls_tree_lists(repo: Any, objects: Objects, revision: str, under: str) -> None:
    here = repository.open_repo(repo.path, inherit=False)
    commit = repository.resolve(here, revision)

    assert sorted(repository.tree_entries(here, commit, under)) == sorted(objects.entries(commit, under))


def test_a_folder_that_is_not_there_is_empty(repo: Any, objects: Objects) -> None:
    commit = repo.git("rev-parse", "HEAD")

    assert [] == list(objects.entries(commit, "kitchen"))
    assert [] == list(objects.entries(commit, "a.toml"))


def test_commits_by_full_and_short_id(repo: Any, objects: Objects) -> None:
    commit = repo.git("rev-parse", "HEAD")

    assert [commit] * 2 == [objects.commit(commit), objects.commit(commit[:9])]
    assert "" == objects.commit("0" * 40)
    assert "" == objects.commit(repo.git("rev-parse", "HEAD:a.toml"))
    repo.git("tag", "--annotate", "--message=x", "v1")
    assert commit == objects.commit(repo.git("rev-parse", "v1"))


def test_a_name_is_never_more_than_one_request(objects: Objects) -> None:
    with pytest.raises(UserError, match="not an object id"):
        objects.commit("0000\nHEAD")


def test_files_are_read_between_other_objects(repo: Any, objects: Objects) -> None:
    commit = repo.git("rev-parse", "HEAD")
    entries = {entry.path: entry.oid for entry in objects.entries(commit, "")}

    assert b"b" == objects.blobs.read(entries["shop/b c.toml"], 100)
    assert commit == objects.commit(commit)
    assert b"c2" == objects.blobs.read(entries["shop/deep/c.toml"], 100)
    assert b"b" == objects.blobs.read(entries["shop/b c.toml"], 100)


def test_one_process_reads_many_commits(repo: Any, objects: Objects, tmp_path: Path) -> None:
    """Git itself says how often it was started."""
    trace = tmp_path / "trace"
    made = [repo.commit(f"n {n}", {"shop/deep/c.toml": str(n)}) for n in range(12)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GIT_TRACE", str(trace))
        assert 12 == len({tuple(objects.entries(commit, "shop")) for commit in made})

    assert 1 == trace.read_text().count("cat-file --batch")
