"""Commits with what they touched, read from real git, whatever the configuration and the names."""

from __future__ import annotations

from pathlib import Path

import pytest

from formula_vcs.errors import GitFailed
from formula_vcs.git import commit_log, repository
from tests.git.helpers_git import Scratch, scratch, settle


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Scratch:
    """Give an empty repository."""
    settle(monkeypatch, tmp_path)
    return scratch(tmp_path / "repo")


def read(repo: Scratch, *folders: str, tip: str = "HEAD", first_parent: bool = False) -> list[commit_log.Commit]:
    opened = repository.open_repo(repo.top)
    return list(commit_log.commits(opened, repository.resolve(opened, tip), folders, first_parent=first_parent))


def test_commits_come_oldest_first_with_what_they_touched(repo: Scratch) -> None:
    first = repo.commit({"a.toml": "title = 1\nx = 2\n", "b.toml": "y = 1\n"}, "Begin")
    second = repo.commit({"a.toml": "title = 1\nx = 3\n"}, "Change a")
    repo.git("rm", "--quiet", "b.toml")
    third = repo.commit({}, "Drop b")

    found = read(repo)

    assert [first, second, third] == [commit.oid for commit in found]
    assert [(), (first,), (second,)] == [commit.parents for commit in found]
    assert [[("A", "a.toml"), ("A", "b.toml")], [("M", "a.toml")], [("D", "b.toml")]] == [
        [(touch.status, touch.path) for touch in commit.touches] for commit in found
    ]
    assert found[0].touches[0].new == found[1].touches[0].old == repo.git("rev-parse", f"{first}:a.toml").strip()
    assert "0" * 40 == found[0].touches[0].old == found[2].touches[0].new
    assert ["Begin", "Change a", "Drop b"] == [commit.subject for commit in found]
    assert {"Ada Formulator"} == {commit.author for commit in found}
    assert "2026-05-02T10:00:00+00:00" == found[0].date
    assert "2026-05-02" == found[0].day


def test_the_reason_and_who_else(repo: Scratch) -> None:
    """All reasons count, folded lines are one, the case of the key does not matter; a word in a line is none."""
    repo.commit({"a.toml": "x = 1\n"}, "Begin\n\nreason: first\nReason: the second,\n  and it goes on\nNo Reason: here")
    repo.commit({"a.toml": "x = 2\n"}, "More\n\nCo-authored-by: Bo Ek <bo@example.org>\nCo-Authored-By: Cy <c@x>")
    repo.commit({"a.toml": "x = 3\n"}, "None\n\nReason:\n")
    repo.commit({"a.toml": "x = 4\n"}, "Below\n\nReason:\n  on the next line\nReason:   \n")

    found = read(repo)

    assert ["first; the second, and it goes on", None, None, "on the next line"] == [commit.reason for commit in found]
    assert [(), ("Bo Ek", "Cy"), (), ()] == [commit.coauthors for commit in found]


def test_a_rename_names_both_paths(repo: Scratch) -> None:
    text = "".join(f"line{n} = {n}\n" for n in range(20))
    repo.commit({"old.toml": text})
    repo.git("mv", "old.toml", "new.toml")
    repo.commit({"new.toml": text + "more = 1\n"})

    touch = read(repo)[1].touches[0]

    assert ("R", "old.toml", "new.toml") == (touch.status, touch.old_path, touch.path)


@pytest.mark.parametrize(
    "setting",
    [
        "diff.renames=false", "log.showRoot=false", "log.follow=true", "log.showSignature=true", "log.diffMerges=off",
        "core.quotePath=true", "format.pretty=oneline", "log.date=relative", "color.ui=always", "diff.noprefix=true",
        "i18n.logOutputEncoding=ISO-8859-1", "core.abbrev=5", "log.decorate=full",
    ],
)  # fmt: skip
def test_nobodys_configuration_takes_part(repo: Scratch, setting: str) -> None:
    text = "".join(f"line{n} = {n}\n" for n in range(20))
    repo.commit({"w/old.toml": text}, "Zeile \u00e4")
    repo.git("mv", "w/old.toml", "w/new.toml")
    repo.commit({}, "Umbenannt")
    before = read(repo, "w")
    key, _, value = setting.partition("=")
    repo.git("config", key, value)

    assert before == read(repo, "w")
    assert "Zeile \u00e4" == before[0].subject
    assert ["A", "R"] == [commit.touches[0].status for commit in before]


def test_names_and_messages_of_any_bytes(repo: Scratch) -> None:
    """A path that is not UTF-8, one that begins with a colon, one with a line feed; a message in Latin-1."""
    odd = (b"b\xf6rste.toml", b":100644 x.toml", b"two\nlines.toml", b"tab\there.toml")
    for name in odd:
        (Path(repo.top) / name.decode("utf-8", "surrogateescape")).write_text("x = 1\n", "utf-8")
    repo.git("config", "i18n.commitEncoding", "ISO-8859-1")
    repo.write("message", "Gr\u00fc\u00dfe\n\nReason: \u00e4ndern\n".encode("latin-1"))
    repo.git("add", "--all", "--", ":!message")
    repo.git("commit", "--quiet", "--file=message")

    found = read(repo)[0]

    assert sorted(name.decode("utf-8", "surrogateescape") for name in odd) == sorted(t.path for t in found.touches)
    assert ("Gr\u00fc\u00dfe", "\u00e4ndern") == (found.subject, found.reason)


def test_a_folder_leaves_other_commits_out_and_names_the_nearest_parents(repo: Scratch) -> None:
    repo.commit({"readme": "one\n"})
    first = repo.commit({"w/a.toml": "x = 1\n"})
    repo.commit({"readme": "two\n"})
    second = repo.commit({"w/a.toml": "x = 2\n"})

    found = read(repo, "w")

    assert [(first, ()), (second, (first,))] == [(commit.oid, commit.parents) for commit in found]


def test_a_folder_named_like_a_pattern_is_a_folder(repo: Scratch) -> None:
    repo.commit({"w*/a.toml": "x = 1\n", "wide/b.toml": "x = 1\n"})

    assert [["w*/a.toml"]] == [[touch.path for touch in commit.touches] for commit in read(repo, "w*")]


def merged(repo: Scratch) -> tuple[str, str, str, str]:
    base = repo.commit({"a.toml": "x = 1\n", "b.toml": "x = 1\n"}, "Begin")
    repo.git("checkout", "--quiet", "-b", "side")
    side = repo.commit({"a.toml": "x = 2\n"}, "Side")
    repo.git("checkout", "--quiet", "main")
    main = repo.commit({"b.toml": "x = 2\n"}, "Main")
    repo.git("merge", "--quiet", "--no-edit", "side")
    return base, side, main, repo.git("rev-parse", "HEAD").strip()


def test_a_merge_shows_what_it_brought_to_its_first_parent(repo: Scratch) -> None:
    base, side, main, merge = merged(repo)

    found = {commit.oid: commit for commit in read(repo)}

    assert {base, side, main, merge} == found.keys()
    assert (main, side) == found[merge].parents
    assert [("M", "a.toml")] == [(touch.status, touch.path) for touch in found[merge].touches]


def test_along_first_parents_the_side_is_not_there(repo: Scratch) -> None:
    base, _, main, merge = merged(repo)

    assert [base, main, merge] == [commit.oid for commit in read(repo, first_parent=True)]


def test_a_shallow_clone_says_where_it_ends(repo: Scratch, tmp_path: Path) -> None:
    repo.commit({"a.toml": "x = 1\n"})
    second = repo.commit({"a.toml": "x = 2\n"})
    third = repo.commit({"a.toml": "x = 3\n"})
    clone = scratch(tmp_path / "clone")
    clone.git("fetch", "--quiet", "--depth=2", f"file://{repo.top}", "main")
    clone.git("reset", "--quiet", "--hard", "FETCH_HEAD")

    found = read(clone)

    assert [(second, True), (third, False)] == [(commit.oid, commit.cut) for commit in found]


def test_a_damaged_history_is_said(repo: Scratch) -> None:
    first = repo.commit({"a.toml": "x = 1\n"})
    repo.commit({"a.toml": "x = 2\n"})
    (repo.top / ".git" / "objects" / first[:2] / first[2:]).unlink()

    with pytest.raises(GitFailed, match="git log failed"):
        read(repo)


def test_leaving_early_ends_git(repo: Scratch) -> None:
    for number in range(5):
        repo.commit({"a.toml": f"x = {number}\n"})
    opened = repository.open_repo(repo.top)
    commits = commit_log.commits(opened, repository.resolve(opened, "HEAD"))

    assert "a change" == next(commits).subject
    commits.close()  # type: ignore[attr-defined]


def test_ancestors_and_what_one_has_and_another_has_not(repo: Scratch) -> None:
    base, side, main, merge = merged(repo)
    opened = repository.open_repo(repo.top)

    assert commit_log.is_ancestor(opened, base, merge)
    assert commit_log.is_ancestor(opened, side, side)
    assert not commit_log.is_ancestor(opened, side, main)
    assert {main, merge} == commit_log.reachable(opened, merge, side)


def test_where_a_file_came_from(repo: Scratch) -> None:
    text = "".join(f"line{n} = {n}\n" for n in range(20))
    first = repo.commit({"x/workspace.toml": text})
    (repo.top / "y").mkdir()
    repo.git("mv", "x/workspace.toml", "y/workspace.toml")
    second = repo.commit({})
    opened = repository.open_repo(repo.top)

    assert "x/workspace.toml" == commit_log.came_from(opened, second, "y/workspace.toml")
    assert commit_log.came_from(opened, first, "x/workspace.toml") is None
