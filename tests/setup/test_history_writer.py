"""Histories written through git fast-import, and where the shipped files are found."""

from __future__ import annotations

import datetime
import subprocess
from pathlib import Path

import pytest

import formula_vcs
from formula_vcs.errors import GitFailed
from formula_vcs.setup.history_writer import Ids, Person, StoryCommit, create
from formula_vcs.setup.shipped import shipped, texts

UNA = Person("Una Ørsted", "una@example.org")
ZONE = datetime.timezone(datetime.timedelta(hours=-3, minutes=-30))
WHEN = datetime.datetime(2026, 5, 2, 10, 0, tzinfo=ZONE)


def commit(branch: str, files: dict[str, bytes], *parents: int) -> StoryCommit:
    return StoryCommit(branch, UNA, WHEN, f"{branch}: {len(files)} files\n", files, parents)


def at(repo: Path, *words: str) -> str:
    return subprocess.run(["git", *words], cwd=repo, check=True, capture_output=True).stdout.decode().strip()


def test_authors_dates_branches_and_merges(tmp_path: Path) -> None:
    files = {"a.toml": b"a = 1\n"}
    more = {**files, "in/b.toml": b"\x00\xff no text\r\n"}

    ids = create(
        tmp_path / "new" / "repo",
        [commit("main", files), commit("side", more, 0), commit("main", {}, 0), commit("main", more, 2, 1)],
        branch="main",
        config={"core.autocrlf": "false"},
    )

    repo = tmp_path / "new" / "repo"
    assert ids[3] == at(repo, "rev-parse", "main")
    assert [ids[2], ids[1]] == at(repo, "log", "-1", "--format=%P", "main").split()
    assert "Una Ørsted|una@example.org|2026-05-02T10:00:00-03:30" == at(repo, "log", "-1", "--format=%an|%ae|%aI")
    assert more == {path: (repo / path).read_bytes() for path in more}
    assert "" == at(repo, "ls-tree", "-r", ids[2])
    assert "false" == at(repo, "config", "--local", "core.autocrlf")
    assert "" == at(repo, "fsck", "--strict")


@pytest.mark.parametrize("path", ['a "quoted" name', "back\\slash", "two\nlines", "gölet", " space "])
def test_any_name_of_a_file(path: str, tmp_path: Path) -> None:
    create(tmp_path, [commit("main", {path: b"x"})], branch="main")

    assert b"x" == (tmp_path / path).read_bytes()


def test_what_git_refuses_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(GitFailed, match="git fast-import failed: ") as caught:
        create(tmp_path, [commit("no..name", {})], branch="main")

    assert 1 == len(str(caught.value).splitlines())


def test_an_installed_package_has_the_folders_inside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert (shipped("recipes") / "workspace.toml").is_file()

    inside = tmp_path / "_shipped" / "recipes"
    (inside / "in").mkdir(parents=True)
    (inside / "in" / "a.toml").write_bytes(b"a = 1\r\n")
    (inside / ".hidden").write_bytes(b"\xff")
    monkeypatch.setattr(formula_vcs, "__file__", str(tmp_path / "__init__.py"))

    assert inside == shipped("recipes")
    assert {"in/a.toml": "a = 1\r\n"} == texts("recipes")


def test_ids_are_worked_out_as_git_will(tmp_path: Path) -> None:
    names = {"a.toml": b"a", "a/b.toml": b"b", "a-b/c.toml": b"c", "ä.toml": b"", "a/deep/d.toml": b"d"}
    first = StoryCommit("main", UNA, WHEN, "One\n", names)
    second = StoryCommit("side", UNA, WHEN, "Zwei: ä\n\nReason: x\n", {**names, "new.toml": b"n"}, (0,))
    merge = StoryCommit("main", UNA, WHEN, "Both\n", {**names, "new.toml": b"n"}, (0, 1))
    ids = Ids()
    told = [first, second, merge]
    assert create(tmp_path / "r", told, branch="main") == [ids.add(commit) for commit in told]
