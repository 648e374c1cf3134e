"""A workspace at a moment: on disk, in the index, at a revision; whatever stands there."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.git.repository import open_repo, resolve
from formula_vcs.model.finding import Finding
from formula_vcs.workspace.snapshot import Committed, Files, Read, Snapshot, WorkTree, find_workspace, id_of, kind_of

if TYPE_CHECKING:
    from tests.conftest import GitRepo

MakeRepo = Callable[..., "GitRepo"]
DAY = datetime.date(2026, 6, 1)
BIG = b'title = "Big"\n' + b"#" * 50 * 1024 * 1024


def judged(snapshot: Snapshot) -> list[Finding]:
    """Judge a workspace; that water and glycerin are not preserved is no matter of where they are read."""
    return [finding for finding in judge_workspace(snapshot, DAY) if finding.rule != "preserved"]


def at(repo: GitRepo, revision: str | None, folder: str = "") -> Snapshot:
    found = open_repo(repo.path)
    commit = None if revision is None else resolve(found, revision)
    return Snapshot(Committed(found, commit, folder, revision or "index"))


def on_disk(repo: GitRepo, folder: str = "") -> Snapshot:
    return Snapshot(WorkTree(repo.path / folder, folder))


def moments(repo: GitRepo, folder: str = "") -> list[Snapshot]:
    """Give what should be the same three times over: work tree, index, HEAD."""
    return [on_disk(repo, folder), at(repo, None, folder), at(repo, "HEAD", folder)]


def said(snapshot: Snapshot) -> list[str]:
    with snapshot:
        return sorted(f"{f.rule} {f.file}" for f in map(snapshot.place, judged(snapshot)))


def words(snapshot: Snapshot, path: str) -> str:
    with snapshot:
        found: Read = snapshot.read(path)
        finding: Finding = found.findings[0]
        assert not found.whole
        return f"{finding.rule}: {finding.message}"


def test_all_three_sources_give_the_same(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    for snapshot in moments(git_repo(minimal)):
        with snapshot:
            assert sorted(minimal) == sorted(snapshot.listing)
            assert snapshot.exists
            assert {"cream": "cream.toml"} == snapshot.ids("recipe")
            recipe = snapshot.recipe("cream")
            assert recipe is not None
            assert {"water", "glycerin"} == set(snapshot.formula(recipe).ingredients)
            assert [] == list(judged(snapshot))


def test_the_names_of_contents_agree(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    """So that an untouched file of the work tree is known to be the one of a commit without being parsed."""
    names = []
    for snapshot in moments(git_repo(minimal)):
        with snapshot:
            names.append({path: snapshot.content_name(path) for path in snapshot.listing})

    assert names[0] == names[1] == names[2]


def test_each_source_sees_its_own_moment(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    repo.write({"cream.toml": minimal["cream.toml"].replace('"Cream"', '"Staged"')})
    repo.git("add", "cream.toml")
    repo.write({"cream.toml": minimal["cream.toml"].replace('"Cream"', '"On disk"')})
    titles = []
    for snapshot in moments(repo):
        with snapshot:
            recipe = snapshot.recipe("cream")
            titles.append(recipe.title if recipe is not None else None)

    assert ["On disk", "Staged", "Cream"] == titles


def test_a_workspace_in_a_sub_folder(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    files = {f"lab/recipes/{path}": text for path, text in minimal.items()}
    repo = git_repo({**files, "pyproject.toml": "[project]\n", "other.toml": "x = 1\n"})
    for snapshot in moments(repo, "lab/recipes"):
        with snapshot:
            assert sorted(minimal) == sorted(snapshot.listing)
            assert [] == list(judged(snapshot))


def test_a_folder_of_a_like_name_is_another(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    files = {f"{folder}/{path}": text for folder in ("recipes", "recipes-old") for path, text in minimal.items()}
    for snapshot in moments(git_repo(files), "recipes"):
        with snapshot:
            assert sorted(minimal) == sorted(snapshot.listing)


def test_a_workspace_inside_belongs_to_nobody_else(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    files = {**minimal, **{f"archive/{path}": text for path, text in minimal.items()}}
    for snapshot in moments(git_repo(files)):
        with snapshot:
            assert sorted(minimal) == sorted(snapshot.listing)


def test_hidden_folders_and_foreign_files_are_nobodys_recipes(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    files = {**minimal, ".venv/x.toml": "=", ".taplo.toml": "=", "pyproject.toml": "=", "sub/.hidden/y.toml": "="}
    for snapshot in moments(git_repo(files)):
        with snapshot:
            assert sorted(minimal) == sorted(snapshot.listing)


def test_recipes_may_lie_in_folders(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    files = {**minimal, "hand/balm.toml": minimal["cream.toml"], "hand/ingredients.toml": minimal["cream.toml"]}
    for snapshot in moments(git_repo(files)):
        with snapshot:
            assert {"cream", "balm", "ingredients"} == set(snapshot.ids("recipe"))


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"\x7fELF\x00\x00", "binary"),
        (b'title = "\xff"\n', "not UTF-8"),
        (b"\xff\xfet\x00", "UTF-16"),
        (b"<<<<<<< ours\na = 1\n=======\na = 2\n>>>>>>> theirs\n", "conflict"),
        (b"title = \n", "the value is missing"),
    ],
)
def test_what_is_no_toml_is_a_finding_and_hides_nothing(
    content: bytes, expected: str, git_repo: MakeRepo, minimal: dict[str, str]
) -> None:
    files: dict[str, str | bytes] = {**minimal, "balm.toml": content, "gel.toml": 'title = "Gel"\n'}
    for snapshot in moments(git_repo(files)):
        findings = said(snapshot)

        assert expected in words(snapshot, "balm.toml")
        assert ["total gel.toml"] == [line for line in findings if "balm" not in line and "no-process" not in line]


@pytest.mark.slow
def test_fifty_megabytes_are_not_read(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    for snapshot in moments(git_repo({**minimal, "balm.toml": BIG})):
        assert "too-big: 'balm.toml' is 50.0 MB" in words(snapshot, "balm.toml")
        assert ["too-big balm.toml"] == said(snapshot)


@pytest.mark.parametrize(
    ("target", "expected"),
    [
        ("../secret.toml", "leads out of the workspace"),
        ("/etc/passwd", "leads out of the workspace"),
        ("gone.toml", "link to nothing"),
        ("balm.toml", "circle"),
    ],
)
def test_links_that_lead_nowhere_good(target: str, expected: str, git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo({f"ws/{path}": text for path, text in minimal.items()} | {"secret.toml": 'title = "Secret"\n'})
    (repo.path / "ws/balm.toml").symlink_to(target)
    repo.commit("a link")
    for snapshot in moments(repo, "ws"):
        found = words(snapshot, "balm.toml")

        assert expected in found
        assert "Secret" not in found


def test_a_link_inside_the_workspace_is_followed(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    (repo.path / "hand").mkdir()
    (repo.path / "hand/balm.toml").symlink_to("../cream.toml")
    repo.commit("a link")
    for snapshot in moments(repo):
        with snapshot:
            recipe = snapshot.recipe("balm")

            assert recipe is not None
            assert "Cream" == recipe.title


def test_two_links_in_a_circle_end(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    (repo.path / "a.toml").symlink_to("b.toml")
    (repo.path / "b.toml").symlink_to("a.toml")
    repo.commit("links")
    for snapshot in moments(repo):
        assert ["unreadable a.toml", "unreadable b.toml"] == said(snapshot)


def test_a_linked_folder_of_ingredients_is_not_passed_over(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    """Its ingredients are missing, and one finding says why."""
    repo = git_repo(minimal)
    (repo.path / "ingredients").rename(repo.path.parent / "elsewhere")
    (repo.path / "ingredients").symlink_to("../elsewhere")
    repo.commit("a link")
    for snapshot in moments(repo):
        assert ["link-outside ingredients", "reference cream.toml", "reference cream.toml"] == said(snapshot)


@pytest.mark.parametrize("target", ["../shelf", "../../shelf"])
def test_a_linked_folder_among_the_ingredients_is_not_passed_over(
    target: str, git_repo: MakeRepo, minimal: dict[str, str]
) -> None:
    """Inside the workspace or out of it: what is in it is missing, and one finding says so."""
    repo = git_repo({**minimal, "shelf/notes.txt": "oil\n"})
    (repo.path.parent / "shelf").mkdir()
    (repo.path / "ingredients" / "far").symlink_to(target)
    (repo.path / "ingredients" / "README").symlink_to("../shelf/notes.txt")
    repo.commit("a link")
    for snapshot in moments(repo):
        assert ["link-outside ingredients/far"] == said(snapshot)
        assert "is a link to a folder" in words(snapshot, "ingredients/far")


def test_a_linked_folder_elsewhere_is_a_note(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo({**minimal, "shelf/balm.txt": "oil\n"})
    (repo.path / "balms").symlink_to("shelf")
    (repo.path / ".hidden").symlink_to("shelf")
    repo.commit("a link")
    for snapshot in moments(repo):
        with snapshot:
            (finding,) = snapshot.read("balms").findings
            assert ("link-outside", "note") == (finding.rule, finding.severity)
            assert [] == [path for path in snapshot.listing if "hidden" in path]
            assert ["cream"] == list(snapshot.ids("recipe"))


def test_a_folder_named_like_a_file_is_no_file(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    (repo.path / "balm.toml").mkdir()

    assert [] == said(on_disk(repo))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_not_waited_for(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    os.mkfifo(repo.path / "balm.toml")

    assert "no plain file" in words(on_disk(repo), "balm.toml")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    (repo.path / "cream.toml").chmod(0)

    assert "cannot be read" in words(on_disk(repo), "cream.toml")


def test_a_file_that_vanishes_while_it_is_read(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    """It was listed, then somebody deleted it; everything else is judged."""
    repo = git_repo(minimal | {"gel.toml": 'title = "Gel"\n'})
    snapshot = on_disk(repo)
    assert "cream.toml" in snapshot.listing
    (repo.path / "cream.toml").unlink()
    findings = said(snapshot)

    assert "unreadable cream.toml" in findings
    assert "total gel.toml" in findings


def test_an_unmerged_file_is_a_finding_in_the_index(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo(minimal)
    repo.git("checkout", "--quiet", "-b", "other")
    repo.commit("theirs", {"cream.toml": minimal["cream.toml"].replace("5.00", "6.00")})
    repo.git("checkout", "--quiet", "main")
    repo.commit("ours", {"cream.toml": minimal["cream.toml"].replace("5.00", "7.00")})
    with pytest.raises(Exception, match="merge"):
        repo.git("merge", "--quiet", "other")

    assert "conflict: 'cream.toml' is not merged yet" in words(at(repo, None), "cream.toml")
    assert "conflict" in words(on_disk(repo), "cream.toml")


def test_names_that_are_no_text(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    """File names are bytes: one that is no UTF-8, and one with a line break, are findings like others."""
    repo = git_repo(minimal)
    Path(os.fsdecode(os.fsencode(repo.path) + b"/b\xe9.toml")).write_text('title = "B"\n', "utf-8")
    (repo.path / "two\nlines.toml").write_text('title = "T"\n', "utf-8")
    repo.commit("odd names")
    for snapshot in moments(repo):
        with snapshot:
            rules = [finding.rule for finding in judged(snapshot)]

        assert 2 == rules.count("bad-id")


def test_an_empty_repository_has_no_workspace(git_repo: MakeRepo) -> None:
    repo = git_repo()
    for snapshot in (on_disk(repo), at(repo, None)):
        with snapshot:
            assert not snapshot.exists
            assert [] == list(snapshot.recipes())


def test_one_id_given_twice_keeps_the_first(minimal: dict[str, str]) -> None:
    snapshot = Snapshot(Files({**minimal, "old/cream.toml": 'title = "Old"\n'}))
    recipe = snapshot.recipe("cream")

    assert {"old/cream.toml": ["cream.toml"]} == snapshot.twins
    assert recipe is not None
    assert "Cream" == recipe.title


@pytest.mark.parametrize(
    ("path", "kind", "name"),
    [
        ("workspace.toml", "workspace", "workspace"),
        ("cream.toml", "recipe", "cream"),
        ("hand/cream.toml", "recipe", "cream"),
        ("ingredients/water.toml", "ingredients", "water"),
        ("ingredients/oils/olive.toml", "ingredients", "olive"),
        ("hand/ingredients/olive.toml", "recipe", "olive"),
        ("lots/kelp-2291.toml", "lots", "kelp-2291"),
        ("ingredients/far", "link", "far"),
    ],
)
def test_a_folder_says_the_kind(path: str, kind: str, name: str) -> None:
    assert (kind, name) == (kind_of(path), id_of(path))


def test_a_workspace_is_found_from_below(git_repo: MakeRepo, minimal: dict[str, str]) -> None:
    repo = git_repo({f"recipes/{path}": text for path, text in minimal.items()})

    assert repo.path / "recipes" == find_workspace(repo.path / "recipes/ingredients")
    assert find_workspace(repo.path) is None
