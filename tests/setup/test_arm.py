from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path

import pytest

from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.setup import arm, driver, hooks
from tests.git.helpers_git import Scratch, picture, scratch, settle

OLD = 'title = "x"\n\n[phase.B.charge]\n' + "".join(f"filler-{n} = 1\n" for n in range(8)) + "gum-a = 0.30\n"
NEW = OLD.replace("0.30", "0.45")
STEPS = '[[step]]\nid = "hydrate"\n' + "# a\n" * 5 + 'time = "8 min"\n'


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Scratch:
    """A repository with a workspace in a sub-folder.  No git-formula on PATH: tests put a stand-in there."""
    settle(monkeypatch, tmp_path)
    monkeypatch.setenv("PATH", "/usr/local/bin:/usr/bin:/bin")
    made = scratch(tmp_path / "r")
    made.commit({"recipes/workspace.toml": 'title = "x"\n', "recipes/a.toml": OLD, "pyproject.toml": "[x]\n"})
    return made


def opened(made: Scratch) -> repository.Repo:
    return repository.open_repo(made.top)


def plan(made: Scratch, **options: object) -> list[arm.Action]:
    return arm.plan(opened(made), made.top / "recipes", arm.Options(**options))  # type: ignore[arg-type]


def armed(made: Scratch, **options: object) -> list[arm.Action]:
    return arm.carry_out(opened(made), plan(made, **options))


def undo(made: Scratch) -> list[arm.Action]:
    return arm.carry_out(opened(made), arm.plan_undo(opened(made), made.top / "recipes"))


def states(actions: list[arm.Action]) -> dict[str, str]:
    return {action.what: action.state for action in actions}


def stand_in(folder: Path, script: str) -> Path:
    """A stand-in for the installed git-formula, whose own tests are elsewhere."""
    folder.mkdir(parents=True, exist_ok=True)
    program = folder / "git-formula"
    program.write_text(f"#!/bin/sh\n{script}\n")
    program.chmod(0o755)
    return program


@pytest.fixture
def bin_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "bin"
    folder.mkdir()
    monkeypatch.setenv("PATH", f"{folder}:{os.environ['PATH']}")
    return folder


class TestPlan:
    EVERYTHING = (
        "diff.formula.xfuncname",
        "diff.formula.wordRegex",
        "merge.formula.name",
        "merge.formula.driver",
        "diff.formula.command",
        "hook pre-commit",
        "hook commit-msg",
        "hook pre-merge-commit",
        "diff=formula and merge=formula for *.toml",
    )

    def test_a_plan_describes_and_does_nothing(self, repo: Scratch) -> None:
        before = picture(repo.top)

        assert dict.fromkeys(self.EVERYTHING, "add") == states(plan(repo))
        assert before == picture(repo.top)

    def test_the_second_run_keeps_everything(self, repo: Scratch) -> None:
        armed(repo)
        before = picture(repo.top)

        assert dict.fromkeys(self.EVERYTHING, "keep") == states(plan(repo))
        assert armed(repo) == []
        assert before == picture(repo.top)

    def test_undo_gives_back_every_byte(self, repo: Scratch) -> None:
        repo.write(
            ".git/config", (repo.top / ".git/config").read_text() + "# mine\n[alias]\n\tx = !f() { echo 'a; b' ; }; f\n"
        )
        for text in (None, "*.bin binary\n", "*.bin binary", "*.bin binary\r\n"):
            if text is not None:
                repo.write("recipes/.gitattributes", text)
            before = picture(repo.top)
            armed(repo)
            assert before != picture(repo.top)
            undo(repo)

            assert before == picture(repo.top)

    def test_undo_of_nothing_is_nothing(self, repo: Scratch) -> None:
        assert arm.plan_undo(opened(repo), repo.top / "recipes") == []

    @pytest.mark.parametrize("steps", range(9))
    def test_a_run_that_was_killed_is_finished_by_the_next_and_undone_whole(self, repo: Scratch, steps: int) -> None:
        before = picture(repo.top)
        arm.carry_out(opened(repo), plan(repo)[:steps])
        armed(repo)
        assert {"keep"} == set(states(plan(repo)).values())
        arm.carry_out(opened(repo), arm.plan_undo(opened(repo), repo.top / "recipes")[:steps])
        undo(repo)

        assert before == picture(repo.top)

    def test_a_bare_repository_is_refused(self, repo: Scratch, tmp_path: Path) -> None:
        repo.git("clone", "-q", "--bare", ".", str(tmp_path / "bare.git"))
        bare = repository.open_repo(tmp_path / "bare.git")

        with pytest.raises(UserError, match="no work tree"):
            arm.plan(bare, tmp_path, arm.Options())

    def test_without_the_diff_driver_the_rest_is_set_and_an_earlier_one_goes(self, repo: Scratch) -> None:
        armed(repo)
        done = states(armed(repo, diff_driver=False))

        assert done == {"diff.formula.command": "remove"}
        assert {"keep"} == set(states(plan(repo, diff_driver=False)).values())
        assert {"keep"} == set(states(arm.status(opened(repo), repo.top / "recipes", arm.Options())).values())

    def test_status_in_a_fresh_clone_of_an_armed_repository(self, repo: Scratch, tmp_path: Path) -> None:
        armed(repo, hooks="none")
        repo.commit({})
        repo.git("clone", "-q", ".", str(tmp_path / "clone"))
        found = states(arm.status(repository.open_repo(tmp_path / "clone"), tmp_path / "clone" / "recipes"))

        assert found.pop("diff=formula and merge=formula for *.toml") == "keep"
        assert {"add"} == set(found.values())

    def test_hooks_in_a_file_are_a_conflict_and_nothing_is_written_there(self, repo: Scratch) -> None:
        repo.git("config", "core.hooksPath", "hooks.txt")
        repo.write("hooks.txt", "a file")
        armed(repo, force=True)
        found = plan(repo, force=True)

        assert states(found)["hook pre-commit"] == "conflict"
        assert "no folder" in next(action.note for action in found if action.what == "hook pre-commit")


class TestOthersValues:
    def test_anothers_config_value_stays_without_force(self, repo: Scratch) -> None:
        repo.git("config", "diff.formula.wordRegex", "[a-z]+")
        found = plan(repo)
        armed(repo)

        assert states(found)["diff.formula.wordRegex"] == "conflict"
        assert repo.git("config", "diff.formula.wordRegex") == "[a-z]+\n"
        undo(repo)
        assert repo.git("config", "diff.formula.wordRegex") == "[a-z]+\n"

    def test_force_replaces_it(self, repo: Scratch) -> None:
        repo.git("config", "diff.formula.wordRegex", "[a-z]+")
        armed(repo, force=True)

        assert repo.git("config", "diff.formula.wordRegex") == driver.WORD_REGEX + "\n"

    def test_a_value_from_an_included_file_is_seen_and_never_unset(self, repo: Scratch) -> None:
        repo.git("config", "include.path", "../mine.inc")
        repo.write("mine.inc", '[diff "formula"]\n\twordRegex = "[a-z]+"\n')

        assert states(plan(repo))["diff.formula.wordRegex"] == "conflict"
        armed(repo)
        undo(repo)
        assert repo.git("config", "diff.formula.wordRegex") == "[a-z]+\n"

    def test_values_of_our_older_versions_are_upgraded_without_force(self, repo: Scratch) -> None:
        repo.git("config", "diff.formula.command", ": git-formula diff driver 0; f() { :; }; f")
        repo.git("config", "merge.formula.driver", ": git-formula merge driver 0; f() { :; }; f")
        repo.git("config", "diff.formula.xfuncname", "older")
        prior = {"diff.formula.xfuncname": frozenset({"older"})}
        wanted = driver.values("", diff_driver=True)

        found = driver.plan(opened(repo), wanted, force=False, prior=prior)

        assert {a.key.rsplit(".", 1)[1]: a.state for a in found} == {
            "xfuncname": "update",
            "wordRegex": "add",
            "name": "add",
            "driver": "update",
            "command": "update",
        }
        removed = driver.plan_removal(opened(repo), prior=prior)
        assert [a.key for a in removed] == ["diff.formula.xfuncname", "merge.formula.driver", "diff.formula.command"]

    def test_anothers_hook_stays_without_force(self, repo: Scratch) -> None:
        repo.hook("pre-commit", "exit 0")
        found = plan(repo)
        armed(repo)

        assert states(found)["hook pre-commit"] == "conflict"
        assert (repo.top / ".git/hooks/pre-commit").read_text() == "#!/bin/sh\nexit 0\n"

    def test_force_keeps_it_beside_and_undo_brings_it_back(self, repo: Scratch) -> None:
        repo.hook("pre-commit", "exit 0")
        before = picture(repo.top)
        armed(repo, force=True)

        assert hooks.MARK in (repo.top / ".git/hooks/pre-commit").read_text()
        undo(repo)
        assert before == picture(repo.top)

    def test_a_hook_kept_beside_is_never_overwritten(self, repo: Scratch) -> None:
        repo.hook("pre-commit", "exit 0")
        armed(repo, force=True)
        repo.hook("pre-commit", "exit 7")

        assert states(plan(repo, force=True))["hook pre-commit"] == "conflict"

    def test_anothers_hook_that_calls_us_is_enough(self, repo: Scratch) -> None:
        repo.hook("pre-commit", "mine && git-formula check --staged --hook")

        assert states(plan(repo))["hook pre-commit"] == "keep"

    def test_our_older_hook_is_upgraded_and_one_that_lost_its_x_runs_again(self, repo: Scratch) -> None:
        repo.hook("pre-commit", f"{hooks.MARK}0\nexit 0")
        assert {k: v for k, v in states(armed(repo)).items() if k == "hook pre-commit"} == {"hook pre-commit": "update"}
        (repo.top / ".git/hooks/pre-commit").chmod(0o644)
        armed(repo)

        assert os.access(repo.top / ".git/hooks/pre-commit", os.X_OK)

    def test_another_driver_for_the_same_files_stays_without_force(self, repo: Scratch) -> None:
        repo.write(".gitattributes", "*.toml diff=other\n")

        assert states(plan(repo))["diff=formula and merge=formula for *.toml"] == "conflict"
        armed(repo, force=True)
        assert repo.git("check-attr", "diff", "recipes/a.toml") == "recipes/a.toml: diff: formula\n"
        assert repo.git("check-attr", "diff", "pyproject.toml") == "pyproject.toml: diff: other\n"

    def test_a_line_that_names_us_already_is_enough(self, repo: Scratch) -> None:
        repo.write(
            ".gitattributes",
            "recipes/**/*.toml diff=formula merge=formula\nrecipes/*.toml diff=formula merge=formula\n",
        )

        assert states(plan(repo))["diff=formula and merge=formula for *.toml"] == "keep"
        assert "diff=formula and merge=formula for *.toml" not in states(
            arm.plan_undo(opened(repo), repo.top / "recipes")
        )

    def test_an_attributes_file_that_is_a_link_is_left_alone(self, repo: Scratch) -> None:
        repo.write("common.attributes", "")
        (repo.top / "recipes" / ".gitattributes").symlink_to("../common.attributes")

        assert states(plan(repo))["diff=formula and merge=formula for *.toml"] == "conflict"


class TestAnOlderClone:
    """Armed before there was a merge driver: init again brings it, and until then the clone is said not to be armed."""

    OLD = "# git-formula: recipes get readable hunk headers, word diffs and `git diff` in a chemist's words\n"

    @pytest.fixture
    def old(self, repo: Scratch) -> Scratch:
        armed(repo)
        repo.git("config", "--remove-section", "merge.formula")
        repo.write("recipes/.gitattributes", f"*.bin binary\n{self.OLD}*.toml diff=formula\n")
        return repo

    def test_init_brings_the_line_and_the_configuration(self, old: Scratch) -> None:
        assert {w: s for w, s in states(plan(old)).items() if s != "keep"} == {
            "merge.formula.name": "add",
            "merge.formula.driver": "add",
            "diff=formula and merge=formula for *.toml": "update",
        }
        armed(old)
        text = (old.top / "recipes/.gitattributes").read_text()

        assert text == f"*.bin binary\n{self.OLD}*.toml diff=formula merge=formula\n"
        assert old.git("check-attr", "merge", "recipes/a.toml") == "recipes/a.toml: merge: formula\n"

    def test_another_merge_driver_for_these_files_is_left_alone(self, old: Scratch) -> None:
        old.write("recipes/.gitattributes", "*.toml merge=union\n")

        found = {action.what: action for action in plan(old)}["diff=formula and merge=formula for *.toml"]
        assert found.state == "conflict"
        assert "merge=union" in found.note


class TestPlaces:
    def test_hooks_path_is_respected_and_force_installs_there(self, repo: Scratch, tmp_path: Path) -> None:
        shared = tmp_path / "shared hooks"
        repo.git("config", "core.hooksPath", str(shared))
        found = {a.what: a for a in plan(repo)}
        armed(repo)

        assert found["hook pre-commit"].state == "conflict"
        assert "core.hooksPath" in found["hook pre-commit"].note
        assert not shared.exists()
        armed(repo, force=True)
        assert sorted(p.name for p in shared.iterdir()) == ["commit-msg", "pre-commit", "pre-merge-commit"]
        undo(repo)
        assert not shared.exists()

    def test_a_committed_copy_of_our_hooks_is_armed_as_it_is_and_stays(self, repo: Scratch) -> None:
        for name in hooks.TYPES:
            repo.write(f"tools/{name}", hooks.shipped(name).read_bytes()).chmod(0o755)
        repo.git("config", "core.hooksPath", "tools")

        assert {"keep"} == {state for what, state in states(plan(repo)).items() if what.startswith("hook ")}
        assert arm.plan_undo(opened(repo), repo.top / "recipes") == []

    def test_a_linked_work_tree_arms_the_whole_clone(self, repo: Scratch, tmp_path: Path) -> None:
        repo.git("worktree", "add", "-q", str(tmp_path / "linked"))
        linked = Scratch(tmp_path / "linked")
        armed(linked)

        assert hooks.MARK in (repo.top / ".git/hooks/pre-commit").read_text()
        assert repo.git("config", "--local", "diff.formula.xfuncname") == driver.XFUNCNAME + "\n"
        assert (tmp_path / "linked/recipes/.gitattributes").is_file()
        assert {k: v for k, v in states(plan(repo)).items() if v != "keep"} == {
            "diff=formula and merge=formula for *.toml": "add"
        }

    def test_the_attributes_reach_sub_folders_of_the_workspace_and_nothing_else(self, repo: Scratch) -> None:
        armed(repo)
        out = repo.git("check-attr", "diff", "recipes/x.toml", "recipes/ingredients/y.toml", "pyproject.toml")

        assert [line.rsplit(" ", 1)[1] for line in out.splitlines()] == ["formula", "formula", "unspecified"]

    def test_a_workspace_at_the_top(self, repo: Scratch) -> None:
        arm.carry_out(opened(repo), arm.plan(opened(repo), repo.top, arm.Options()))

        assert repo.git("check-attr", "diff", "recipes/a.toml") == "recipes/a.toml: diff: formula\n"


class TestPreCommitFramework:
    CONFIG = arm.FRAMEWORK_SNIPPET

    def test_it_is_used_where_its_configuration_names_our_hook_and_undone(self, repo: Scratch) -> None:
        repo.write(".pre-commit-config.yaml", self.CONFIG)
        before = picture(repo.top)
        armed(repo)

        for name in hooks.TYPES:
            assert hooks.FRAMEWORK_MARK in (repo.top / ".git/hooks" / name).read_text()
        assert {"keep"} == set(states(plan(repo)).values())
        assert arm.armed_line(opened(repo), repo.top / "recipes") is None
        undo(repo)
        assert before == picture(repo.top)

    def test_hook_types_that_somebody_installed_before_stay(self, repo: Scratch) -> None:
        repo.write(".pre-commit-config.yaml", self.CONFIG)
        install = repo.run(sys.executable, "-m", "pre_commit", "install", "-t", "pre-commit")
        assert install.returncode == 0
        before = picture(repo.top)
        armed(repo)
        undo(repo)

        assert before == picture(repo.top)

    def test_our_plain_hooks_make_room_for_it(self, repo: Scratch) -> None:
        armed(repo)
        repo.write(".pre-commit-config.yaml", self.CONFIG)
        armed(repo)

        assert hooks.FRAMEWORK_MARK in (repo.top / ".git/hooks/pre-commit").read_text()
        assert not (repo.top / ".git/hooks/pre-commit.legacy").exists()

    def test_its_hook_without_our_id_is_another_programs_hook(self, repo: Scratch) -> None:
        repo.write(".pre-commit-config.yaml", "repos: []\n")
        repo.run(sys.executable, "-m", "pre_commit", "install")
        found = {a.what: a for a in plan(repo)}

        assert found["hook pre-commit"].state == "conflict"
        assert "name formula-check in .pre-commit-config.yaml" in found["hook pre-commit"].note

    def test_asking_for_it_without_our_id_is_refused(self, repo: Scratch) -> None:
        with pytest.raises(UserError, match="does not name the hook formula-check"):
            plan(repo, hooks="pre-commit")

    def test_hooks_path_and_the_framework_exclude_each_other(self, repo: Scratch) -> None:
        repo.write(".pre-commit-config.yaml", self.CONFIG)
        repo.git("config", "core.hooksPath", "elsewhere")

        assert states(plan(repo))["hooks through pre-commit"] == "conflict"

    def test_no_hooks_is_remembered_and_taken_back(self, repo: Scratch) -> None:
        before = picture(repo.top)
        armed(repo)
        armed(repo, hooks="none")
        assert not (repo.top / ".git/hooks/pre-commit").exists()
        assert {"keep"} == set(states(plan(repo)).values())
        assert arm.armed_line(opened(repo), repo.top / "recipes") is None
        armed(repo, hooks="plain")
        assert (repo.top / ".git/hooks/pre-commit").exists()
        armed(repo, hooks="none")
        undo(repo)

        assert before == picture(repo.top)


class TestHookScripts:
    """The scripts in real commits, with a stand-in for git-formula."""

    def test_a_failing_check_stops_the_commit_and_a_passing_one_does_not(self, repo: Scratch, bin_folder: Path) -> None:
        armed(repo)
        stand_in(bin_folder, 'echo "$@" >> ../calls; exit $(cat ../status)')
        repo.write("../status", "1")
        repo.write("recipes/a.toml", NEW)
        repo.git("commit", "-q", "-a", "-m", "x", status=1)
        repo.write("../status", "0")
        repo.git("commit", "-q", "-a", "-m", "x")

        assert ((repo.top / "../calls").read_text().splitlines()) == [
            "check --staged --hook",
            "check --staged --hook",
            "reason .git/COMMIT_EDITMSG",
        ]

    def test_a_clean_merge_is_checked(self, repo: Scratch, bin_folder: Path) -> None:
        repo.git("checkout", "-q", "-b", "side")
        repo.commit({"b.toml": "1"})
        repo.git("checkout", "-q", "main")
        repo.commit({"c.toml": "1"})
        armed(repo)
        stand_in(bin_folder, 'echo "$1"; test "$1" != check')

        assert repo.run("git", "merge", "-q", "--no-edit", "side").returncode == 1
        assert repository.merging(opened(repo))

    def test_a_missing_program_is_said_loudly_and_stops_the_commit(self, repo: Scratch) -> None:
        armed(repo)
        done = repo.run("git", "commit", "-q", "--allow-empty", "-m", "x")

        assert done.returncode == 1
        assert b"git-formula is not installed here, so the recipes were NOT checked" in done.stderr
        assert b"pipx install formula-vcs" in done.stderr

    def test_the_installed_program_is_used_where_path_has_none(self, repo: Scratch, tmp_path: Path) -> None:
        program = stand_in(tmp_path / "it's a venv", 'echo "$0 $1" >&2')
        armed(repo, program=str(program))
        done = repo.run("git", "commit", "-q", "--allow-empty", "-m", "x")

        assert done.returncode == 0
        assert f"{program} check\n{program} reason\n" == done.stderr.decode()

    def test_they_run_in_a_linked_work_tree_under_commit_all(
        self, repo: Scratch, bin_folder: Path, tmp_path: Path
    ) -> None:
        armed(repo)
        repo.git("worktree", "add", "-q", "-b", "side", str(tmp_path / "linked"))
        linked = Scratch(tmp_path / "linked")
        stand_in(bin_folder, '[ "$1" = reason ] || git cat-file -p :recipes/a.toml > ../staged')
        linked.write("recipes/a.toml", NEW)
        linked.git("commit", "-q", "-a", "-m", "x")

        assert (tmp_path / "staged").read_text() == NEW


class TestHunkHeadersAndWords:
    def test_a_hunk_names_its_phase_and_its_step_without_any_program(self, repo: Scratch) -> None:
        repo.commit({"recipes/a.toml": OLD + STEPS})
        armed(repo, diff_driver=False)
        repo.write("recipes/a.toml", NEW + STEPS.replace("8 min", "9 min"))
        out = repo.git("diff", "-U1", "recipes/a.toml")

        assert "@@ [phase.B.charge]\n" in out
        assert '@@ id = "hydrate"\n' in out

    @pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
    def test_words_are_numbers_and_ids(self, repo: Scratch, locale: str) -> None:
        old = 'gum-a = 0.30\nph = "-0.8 to 5.4"\nuntil = 2028-05-02\nadd = ["A/citric-acid-50"] # 5 µg\n'
        new = 'gum-b = 0.45\nph = "+0.8 to 5.9"\nuntil = 2029-05-02\nadd = ["A/citric-acid-20"] # 5 µm\n'
        repo.commit({"recipes/a.toml": old})
        armed(repo, diff_driver=False)
        repo.write("recipes/a.toml", new)
        out = repo.git("diff", "--word-diff=plain", "recipes/a.toml", env={"LC_ALL": locale})

        for words in ("[-gum-a-]{+gum-b+}", "[-0.30-]{+0.45+}", "[--0.8-]{++0.8+}", "[-5.4-]{+5.9+}"):
            assert words in out
        assert "[-2028-05-02-]{+2029-05-02+}" in out
        assert "A/[-citric-acid-50-]{+citric-acid-20+}" in out


class TestDiffDriver:
    """The shell text in `diff.formula.command`, in real `git diff`s.  git-formula is a stand-in, or missing."""

    def test_git_formula_gets_the_arguments_and_its_output_is_the_diff(self, repo: Scratch, bin_folder: Path) -> None:
        armed(repo)
        stand_in(bin_folder, 'echo "<$1> $2 $# $5"')
        repo.write("recipes/a.toml", NEW)

        assert repo.git("diff").startswith("<diff-driver> recipes/a.toml 8 ")

    @pytest.mark.parametrize("script", ["exit 1", "exit 2", "kill -9 $$", "nonsense-xyz 2>/dev/null"])
    def test_a_program_that_fails_gives_the_text_diff(self, repo: Scratch, bin_folder: Path, script: str) -> None:
        armed(repo)
        stand_in(bin_folder, script)
        repo.write("recipes/a.toml", NEW)

        assert "-gum-a = 0.30\n+gum-a = 0.45\n" in repo.git("diff")

    def text_diff(self, repo: Scratch, *args: str) -> str:
        """The fallback, held against what git itself shows but for `index` lines and hunk headings."""
        ours = repo.git("diff", *args)
        plain = repo.git("-c", "diff.formula.xfuncname=^nothing", "diff", "--no-ext-diff", *args)

        def lines(text: str) -> list[str]:
            kept = [line for line in text.splitlines() if not line.startswith("index ")]
            # git puts a tab after a name with a space in it
            return [line.split(" @@")[0] if line.startswith("@@") else line.rstrip("\t") for line in kept]

        assert lines(plain) == lines(ours)
        return ours

    def test_a_missing_program_gives_gits_text_diff(self, repo: Scratch) -> None:
        armed(repo)
        repo.write("recipes/a.toml", NEW)
        repo.write("recipes/no-final-newline.toml", "a")
        repo.git("add", ".")

        self.text_diff(repo, "HEAD")
        self.text_diff(repo, "--cached")

    def test_added_deleted_renamed_empty_and_mode_changes(self, repo: Scratch) -> None:
        repo.commit({"recipes/gone.toml": "b = 1\n", "recipes/mode.toml": "c = 1\n", "recipes/old.toml": OLD})
        armed(repo)
        repo.git("rm", "-q", "recipes/gone.toml")
        repo.git("mv", "recipes/old.toml", "recipes/new name.toml")
        repo.write("recipes/new name.toml", NEW)
        repo.write("recipes/added.toml", "d = 1\n")
        repo.write("recipes/empty.toml", "")
        (repo.top / "recipes/mode.toml").chmod(0o755)
        repo.git("add", ".")

        out = self.text_diff(repo, "--cached")

        assert "rename from recipes/old.toml\nrename to recipes/new name.toml\n" in out
        assert "--- /dev/null\n+++ b/recipes/added.toml\n" in out
        assert "--- a/recipes/gone.toml\n+++ /dev/null\n" in out

    def test_the_fallback_can_be_applied(self, repo: Scratch, tmp_path: Path) -> None:
        repo.commit({"recipes/gone.toml": "b = 1\n", "recipes/old.toml": OLD})
        armed(repo)
        repo.git("mv", "recipes/old.toml", "recipes/renamed.toml")
        repo.git("rm", "-q", "recipes/gone.toml")
        repo.write("recipes/a.toml", NEW)
        repo.write("recipes/renamed.toml", NEW)
        repo.git("add", ".")
        patch = tmp_path / "patch"
        patch.write_text(repo.git("diff", "--cached"))
        tree = repo.git("write-tree")
        repo.git("reset", "-q", "--hard")
        repo.git("apply", "--index", str(patch))
        repo.git("add", ".")

        assert repo.git("ls-tree", "-r", tree.strip(), "recipes/a.toml") == repo.git(
            "ls-tree", "-r", repo.git("write-tree").strip(), "recipes/a.toml"
        )
        assert tree == repo.git("write-tree")

    def test_a_binary_file(self, repo: Scratch) -> None:
        armed(repo)
        repo.write("recipes/a.toml", b"\0\1\2")

        assert "\nBinary files " in repo.git("diff")

    def test_an_unmerged_path(self, repo: Scratch) -> None:
        repo.git("checkout", "-q", "-b", "side")
        repo.commit({"recipes/a.toml": NEW})
        repo.git("checkout", "-q", "main")
        repo.commit({"recipes/a.toml": NEW.replace("0.45", "0.60")})
        armed(repo, hooks="none")
        repo.git("merge", "-q", "side", status=1)
        out = repo.git("diff")

        assert "* Unmerged path recipes/a.toml\n" in out or "++<<<<<<<" in out
        assert "* Unmerged path recipes/a.toml\n" in repo.git("diff", "--ours")
        assert "+<<<<<<< ours\n" in repo.git("diff", "--ours")

    def test_it_can_be_switched_off_for_one_command(self, repo: Scratch, bin_folder: Path) -> None:
        armed(repo)
        stand_in(bin_folder, "echo in words")
        repo.write("recipes/a.toml", NEW)

        assert repo.git("diff") == "in words\n"
        assert "+gum-a = 0.45\n" in repo.git("diff", env={"GIT_FORMULA_DIFF": "off"})

    @pytest.mark.parametrize("script", ["seq 200000", "exit 1", None])
    def test_a_pager_that_was_closed_is_no_error(self, repo: Scratch, bin_folder: Path, script: str | None) -> None:
        armed(repo)
        if script:
            stand_in(bin_folder, script)
        for n in range(3):
            repo.write(f"recipes/{n}.toml", "".join(f"x{i} = 1\n" for i in range(20_000)))
        repo.git("add", ".")
        done = repo.run(
            "sh", "-c", "{ git diff --cached; echo $? >../status; } 2>../err | head -n1 >/dev/null; cat ../err"
        )

        assert b"external diff died" not in done.stdout
        assert (repo.top / "../status").read_text().strip() in ("0", "141")

    def test_names_with_control_bytes_are_harmless(self, repo: Scratch) -> None:
        armed(repo)
        repo.write("recipes/a\x1b[31m\nb.toml", "1\n")
        repo.git("add", ".")
        out = repo.git("diff", "--cached")

        assert "\x1b" not in out
        assert "diff --git a/recipes/a?[31m?b.toml b/recipes/a?[31m?b.toml\n" in out

    def test_colour_follows_git_and_no_color(self, repo: Scratch) -> None:
        armed(repo)
        repo.write("recipes/a.toml", NEW)
        repo.git("config", "color.diff", "auto")

        assert "\x1b" not in repo.git("diff")
        coloured = repo.git("diff", env={"GIT_PAGER_IN_USE": "true"})
        assert "\x1b[32m+" in coloured
        assert "index " not in coloured
        assert "\x1b" not in repo.git("diff", env={"GIT_PAGER_IN_USE": "true", "NO_COLOR": "1"})

    def test_no_repository_is_needed(self, repo: Scratch) -> None:
        armed(repo)
        repo.write("recipes/b.toml", NEW)
        out = repo.git("diff", "--no-index", "recipes/a.toml", "recipes/b.toml", status=1)

        assert "+gum-a = 0.45\n" in out

    def test_the_text_is_one_line_of_plain_sh(self, repo: Scratch) -> None:
        text = driver.command("/a b/git-formula")

        assert "\n" not in text
        assert repo.run("sh", "-n", "-c", text).returncode == 0
        assert shlex.quote("/a b/git-formula") in text


class TestArmedLine:
    def line(self, repo: Scratch) -> str | None:
        return arm.armed_line(opened(repo), repo.top / "recipes")

    def test_an_armed_clone_is_silent_and_a_disarmed_one_says_what_it_lacks(self, repo: Scratch) -> None:
        armed(repo)
        assert self.line(repo) is None
        repo.git("config", "--remove-section", "diff.formula")
        assert "diff=formula is named in .gitattributes" in str(self.line(repo))
        (repo.top / ".git/hooks/pre-merge-commit").unlink()

        assert "no hook checks recipes at pre-merge-commit" in str(self.line(repo))
        assert "`git formula init`" in str(self.line(repo))

    def test_a_merge_driver_that_is_named_is_missed_too(self, repo: Scratch) -> None:
        armed(repo)
        repo.git("config", "--remove-section", "merge.formula")
        repo.write(".gitattributes", "# *.toml diff=formula\nrecipes/*.toml merge=formula\n")

        assert "merge=formula is named in .gitattributes" in str(self.line(repo))
        repo.git("config", "merge.formula.driver", "x")
        assert self.line(repo) is None

    def test_values_of_the_user_and_of_included_files_count(
        self, repo: Scratch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        armed(repo)
        repo.git("config", "--remove-section", "diff.formula")
        own = repo.write("../own", "[include]\n\tpath = ./more\n")
        repo.write("../more", '[ diff "formula" ] xfuncname = x\n')
        monkeypatch.setenv("GIT_CONFIG_GLOBAL", str(own))

        assert self.line(repo) is None

    def test_hooks_path_counts(self, repo: Scratch, tmp_path: Path) -> None:
        armed(repo)
        repo.git("config", "core.hooksPath", "~/hooks")
        assert "no hook checks" in str(self.line(repo))
        for name in hooks.TYPES:
            repo.write(f"../hooks/{name}", "git-formula")

        assert self.line(repo) is None

    def test_nothing_is_said_in_ci(self, repo: Scratch, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("CI", "true")

        assert self.line(repo) is None

    def test_it_agrees_with_the_status_in_a_linked_work_tree(self, repo: Scratch, tmp_path: Path) -> None:
        armed(repo)
        repo.git("worktree", "add", "-q", str(tmp_path / "linked"))

        assert arm.armed_line(repository.open_repo(tmp_path / "linked"), tmp_path / "linked/recipes") is None

    def test_unreadable_configuration_never_stops_a_check(self, repo: Scratch) -> None:
        repo.write(".git/config.worktree", b"\xff\0[")
        repo.write("recipes/.gitattributes/a", "a folder")

        assert isinstance(self.line(repo), str)
