from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from formula_vcs import cli
from formula_vcs.commands import init
from formula_vcs.git import repository
from formula_vcs.toml.atomic import unwritable, write_whole
from tests.git.helpers_git import Scratch, picture, scratch, settle

STARTER = [
    "base-gel.toml",
    "ingredients/benzyl-dha.toml",
    "ingredients/water.toml",
    "ingredients/xanthan-gum.toml",
    "workspace.toml",
]


WRITTEN = [".taplo.toml", *STARTER]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder, in no repository, to stand in."""
    settle(monkeypatch, tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path))
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def repo(here: Path, monkeypatch: pytest.MonkeyPatch) -> Scratch:
    """A repository, stood in, with nothing in it."""
    monkeypatch.delenv("GIT_CEILING_DIRECTORIES")
    return scratch(here)


def files(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*.toml"))


def run(*args: str) -> int:
    return cli.main(["init", *args])


class TestStarter:
    def test_a_new_folder_gets_one_recipe_and_three_ingredients_that_pass_the_check(
        self, here: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert run("lab/formulas") == 0
        said = capsys.readouterr().out

        assert files(here / "lab/formulas") == WRITTEN
        assert all(f"wrote         lab/formulas/{name}" in said for name in STARTER)
        assert "Next: `git init lab/formulas`" in said
        assert cli.main(["check", "--workspace", "lab/formulas", "--fail-on", "note"]) == 0
        assert "1 recipe: no findings" in capsys.readouterr().out

    @pytest.mark.parametrize("name", STARTER)
    def test_every_starter_file_explains_itself(self, name: str) -> None:
        text = (init.STARTER / f"{name}.txt").read_text("utf-8")

        assert text.startswith("# ")
        assert text.count("#") > 3 or "ingredients" in name
        assert tomllib.loads(text)["title"]
        assert max(len(line) for line in text.splitlines()) <= 110

    def test_with_git_it_becomes_an_armed_repository(self, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert run("lab", "--git") == 0

        assert "set           a git repository in lab" in capsys.readouterr().out
        assert (here / "lab/.git/hooks/pre-commit").is_file()
        assert run("lab", "--status") == 0

    def test_a_dry_run_writes_nothing(self, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert run("lab", "--git", "--dry-run") == 0

        said = capsys.readouterr().out
        assert "would write   lab/base-gel.toml" in said
        assert "would set     a git repository in lab" in said
        assert list(here.iterdir()) == []

    def test_a_starter_that_was_killed_half_way_is_finished(self, here: Path) -> None:
        write_whole(here / "base-gel.toml", init.starter_texts()[Path("base-gel.toml")])

        assert run() == 0
        assert files(here) == WRITTEN


class TestRefusals:
    """One clear line, exit status 2, nothing written."""

    def refused(self, capsys: pytest.CaptureFixture[str], words: str, *args: str) -> None:
        assert run(*args) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.count("\n") == 1
        assert words in said.err

    def test_a_file_in_the_place_of_a_folder(self, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
        (here / "lab").write_text("x")
        self.refused(capsys, "lab is a file, not a folder", "lab")
        self.refused(capsys, "lab is a file, not a folder", "lab/formulas")
        (here / "lab").unlink()
        (here / "ingredients").write_text("x")
        self.refused(capsys, "ingredients is a file, not a folder")

        assert [here / "ingredients"] == list(here.iterdir())

    def test_a_file_of_the_user_in_the_way(self, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
        (here / "base-gel.toml").write_text("mine")
        self.refused(capsys, "base-gel.toml is there already, but no workspace.toml: nothing was written")

        assert [here / "base-gel.toml"] == list(here.iterdir())

    @pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
    def test_no_permission(self, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
        here.chmod(0o555)
        self.refused(capsys, "cannot write", "lab")

    def test_a_place_where_nobody_can_write(self, capsys: pytest.CaptureFixture[str], here: Path) -> None:
        self.refused(capsys, "cannot write /proc/formulas", "/proc/formulas")

    @pytest.mark.parametrize("locked", [".git", ".git/hooks"])
    def test_a_git_folder_that_cannot_be_written_stops_the_starter_too(
        self, repo: Scratch, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, locked: str
    ) -> None:
        """Tests may run as root, who may write anywhere, so the answer of the system is a stand-in."""
        (repo.top / ".git/hooks").mkdir(exist_ok=True)
        before = picture(repo.top)
        real = os.access
        monkeypatch.setattr(os, "access", lambda path, mode: path != repo.top / locked and real(path, mode))
        self.refused(capsys, "Permission denied", "recipes")

        assert before == picture(repo.top)

    def test_what_was_written_before_a_failure_is_taken_back(
        self, here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full_disk(path: Path, data: bytes) -> None:
            if path.name == "xanthan-gum.toml":
                raise unwritable(path, OSError(28, "No space left on device"))
            write_whole(path, data)

        monkeypatch.setattr(init, "write_whole", full_disk)
        self.refused(capsys, "No space left on device", "lab/formulas")

        assert list(here.iterdir()) == []

    def test_a_bare_repository(self, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
        bare = scratch(here / "bare.git", "--bare")
        before = picture(bare.top)
        for flags in ((), ("--undo",), ("--status",), ("--git",)):
            self.refused(capsys, "is bare, or inside .git", "bare.git", *flags)

        assert before == picture(bare.top)

    @pytest.mark.parametrize("flag", ["--undo", "--status"])
    def test_nothing_to_undo_or_describe(self, here: Path, capsys: pytest.CaptureFixture[str], flag: str) -> None:
        self.refused(capsys, "not a git repository", flag)
        self.refused(capsys, "no such folder: nowhere", "nowhere", flag)

        assert list(here.iterdir()) == []

    def test_undo_and_status_exclude_each_other(self, here: Path) -> None:
        assert run("--undo", "--status") == 2


class TestArming:
    def test_a_repository_without_a_workspace_gets_both(self, repo: Scratch) -> None:
        assert run("recipes") == 0

        assert [f"recipes/{name}" for name in WRITTEN] == files(repo.top)
        assert (repo.top / "recipes/.gitattributes").is_file()
        assert (repo.top / ".git/hooks/commit-msg").is_file()

    @pytest.mark.parametrize("start", [".", "recipes", "recipes/ingredients", "docs/.."])
    def test_the_workspace_around_or_below_is_armed_and_no_second_one_written(self, repo: Scratch, start: str) -> None:
        repo.write("docs/x", "")
        run("recipes")
        before = files(repo.top)
        repo.run("rm", "-r", "recipes/.gitattributes", ".git/hooks")

        assert run(start) == 0
        assert before == files(repo.top)
        assert (repo.top / "recipes/.gitattributes").is_file()

    def test_two_workspaces_are_armed_at_once_and_a_nested_repository_is_not_ours(self, repo: Scratch) -> None:
        repo.commit({"a/workspace.toml": 'title = "a"\n', "b/workspace.toml": 'title = "b"\n'})
        scratch(repo.top / "vendored")
        repo.write("vendored/workspace.toml", 'title = "c"\n')

        assert run() == 0
        assert sorted(str(path.relative_to(repo.top)) for path in repo.top.rglob(".gitattributes")) == [
            "a/.gitattributes",
            "b/.gitattributes",
        ]
        assert run("--undo") == 0
        assert list(repo.top.rglob(".gitattributes")) == []

    def test_it_says_each_thing_once_and_the_second_time_that_it_was_kept(
        self, repo: Scratch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        run("recipes")
        first = capsys.readouterr().out
        before = picture(repo.top)
        assert run() == 0
        second = capsys.readouterr().out

        assert first.count("set           ") == 9
        assert "- id: formula-check" in first
        assert [line.split()[0] for line in second.splitlines()] == ["kept"] * 9
        assert before == picture(repo.top)

    def test_a_dry_run_in_a_clone_changes_nothing(self, repo: Scratch, capsys: pytest.CaptureFixture[str]) -> None:
        repo.commit({"workspace.toml": 'title = "x"\n'})
        before = picture(repo.top)

        assert run("--dry-run") == 0
        assert capsys.readouterr().out.count("would set") == 9
        assert before == picture(repo.top)

    def test_undo_gives_back_every_byte_and_leaves_the_recipes(self, repo: Scratch) -> None:
        repo.commit({"workspace.toml": 'title = "x"\n', ".gitattributes": "* text=auto"})
        before = picture(repo.top)
        run()
        assert before != picture(repo.top)

        assert run("--undo", "--dry-run") == 0
        assert before != picture(repo.top)
        assert run("--undo") == 0
        assert before == picture(repo.top)

    def test_another_programs_hook_is_left_alone_said_and_ends_with_1(
        self, repo: Scratch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        repo.commit({"workspace.toml": 'title = "x"\n'})
        repo.hook("pre-commit", "exit 0")

        assert run() == 1
        assert (
            "LEFT ALONE    hook pre-commit, in .git/hooks/pre-commit (another program's hook" in capsys.readouterr().out
        )
        assert run("--force") == 0
        assert run("--status") == 0

    def test_status_says_what_is_armed_and_ends_with_1_where_something_is_not(
        self, repo: Scratch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        repo.commit({"workspace.toml": 'title = "x"\n'})
        assert run("--status") == 1
        assert "NOT ARMED     hook pre-commit" in capsys.readouterr().out
        run("--no-diff-driver", "--hooks", "none")
        capsys.readouterr()

        assert run("--status") == 0
        said = capsys.readouterr().out
        assert "NOT ARMED" not in said
        assert "all is armed here" in said
        assert repository.read_config(repository.open_repo(repo.top), "diff.formula.command") is None

    def test_a_linked_work_tree_and_a_detached_head_are_normal(
        self, repo: Scratch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        repo.commit({"recipes/workspace.toml": 'title = "x"\n'})
        repo.git("worktree", "add", "-q", "--detach", str(tmp_path / "linked"))
        monkeypatch.chdir(tmp_path / "linked")

        assert run() == 0
        assert run("--status") == 0
        assert (repo.top / ".git/hooks/pre-commit").is_file()
        assert run("--undo") == 0

    def test_names_with_control_bytes_are_shown_harmless(
        self, repo: Scratch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert run("a\x1b[31mb") == 0

        assert "\x1b" not in capsys.readouterr().out
