"""The merge driver in real git: every way in which git merges a file."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import time
from pathlib import Path

import pytest

from tests.git.helpers_git import Scratch, scratch, settle
from tests.git.helpers_merge import CREAM, armed, branch, program

OIL = "# pressed cold\noil = 6.00\n"
MOVED = CREAM.replace(OIL, "").replace("[phase.C.charge]\n", f"[phase.C.charge]\n{OIL}")
RAISED = CREAM.replace("oil = 6.00\n", "oil = 7.00\n")
BOTH = MOVED.replace("oil = 6.00\n", "oil = 7.00\n")
BENZOATE = CREAM.replace("wax = 2.00\n", "wax = 2.00\nbenzoate = 0.30\n")
SORBATE = CREAM.replace("glycerin = 4.00   # humectant\n", "glycerin = 4.00   # humectant\nsorbate = 0.30\n")
STOP = "# git-formula stopped this merge: "


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Shut out the machine, and put this tree's git-formula on PATH."""
    settle(monkeypatch, tmp_path)
    program(tmp_path / "bin")
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:/usr/local/bin:/usr/bin:/bin")
    return tmp_path / "bin"


@pytest.fixture
def repo(path: Path, tmp_path: Path) -> Scratch:
    """A clone that is armed, on main."""
    del path
    return armed(tmp_path / "r")


def cream(made: Scratch, folder: str = "") -> str:
    return (made.top / folder / "cream.toml").read_text("utf-8")


@pytest.fixture
def moved_and_raised(repo: Scratch) -> Scratch:
    """Two branches: one moves the oil from B to C, the other raises it from 6 to 7 %.  HEAD is the one that raises."""
    branch(repo, "move", {"cream.toml": MOVED})
    branch(repo, "raise", {"cream.toml": RAISED})
    return repo


@pytest.fixture
def two_preservatives(repo: Scratch) -> Scratch:
    """Two branches that each add 0.3 % of a preservative; 0.5 % of both together are allowed."""
    branch(repo, "benzoate", {"cream.toml": BENZOATE})
    branch(repo, "sorbate", {"cream.toml": SORBATE})
    return repo


class TestWaysOfGit:
    """One side moves, the other raises: every command of git that merges finds 7 % in phase C."""

    def test_merge(self, moved_and_raised: Scratch) -> None:
        out = moved_and_raised.git("merge", "--no-edit", "move")

        assert "Merge made by" in out
        assert moved_and_raised.git("status", "--porcelain") == ""
        assert "oil" not in cream(moved_and_raised).split("[phase.C.charge]")[0].split("[phase.B.charge]")[1]
        assert "# pressed cold\noil  = 7.00\n" in cream(moved_and_raised).split("[phase.C.charge]")[1]

    def test_merge_the_other_way_keeps_the_layout_of_ours(self, moved_and_raised: Scratch) -> None:
        moved_and_raised.git("checkout", "-q", "move")
        moved_and_raised.git("merge", "--no-edit", "raise")

        assert cream(moved_and_raised) == BOTH

    def test_git_alone_calls_it_a_conflict(self, moved_and_raised: Scratch) -> None:
        moved_and_raised.git("merge", "--no-edit", "move", status=1, env={"GIT_FORMULA_MERGE": "off"})

        assert "<<<<<<< " in cream(moved_and_raised)
        assert "||||||| " in cream(moved_and_raised)

    @pytest.mark.parametrize("backend", ["--merge", "--apply"])
    def test_rebase(self, moved_and_raised: Scratch, backend: str) -> None:
        moved_and_raised.git("rebase", "-q", backend, "move")

        assert cream(moved_and_raised) == BOTH

    def test_cherry_pick(self, moved_and_raised: Scratch) -> None:
        moved_and_raised.git("checkout", "-q", "move")
        moved_and_raised.git("cherry-pick", "raise")

        assert cream(moved_and_raised) == BOTH

    def test_revert(self, moved_and_raised: Scratch) -> None:
        """The raise is taken back after the move: 6 % again, in C."""
        moved_and_raised.git("checkout", "-q", "-b", "both", "move")
        moved_and_raised.git("cherry-pick", "raise")
        moved_and_raised.commit({"workspace.toml": 'title = "Barn"\ncurrency = "EUR"\n'}, "more")
        moved_and_raised.git("revert", "--no-edit", "HEAD~1")

        assert cream(moved_and_raised) == MOVED

    def test_stash_pop(self, moved_and_raised: Scratch) -> None:
        moved_and_raised.git("checkout", "-q", "main")
        moved_and_raised.write("cream.toml", RAISED)
        moved_and_raised.git("stash", "-q")
        moved_and_raised.git("merge", "-q", "move")
        moved_and_raised.git("stash", "pop", "-q")

        assert cream(moved_and_raised) == BOTH

    def test_merge_tree_prints_a_tree_and_nothing_of_ours(self, moved_and_raised: Scratch) -> None:
        out = moved_and_raised.git("merge-tree", "--write-tree", "move", "raise")
        tree = out.splitlines()[0]

        assert len(tree) == 40
        assert "CONFLICT" not in out
        assert moved_and_raised.git("show", f"{tree}:cream.toml") == BOTH

    def test_a_bare_repository(self, moved_and_raised: Scratch, tmp_path: Path) -> None:
        bare = scratch(tmp_path / "bare", "--bare")
        bare.git("fetch", "-q", str(moved_and_raised.top), "refs/heads/*:refs/heads/*")
        bare.write("info/attributes", "*.toml merge=formula\n")
        bare.git("config", "merge.formula.driver", moved_and_raised.git("config", "merge.formula.driver").rstrip("\n"))
        tree = bare.git("merge-tree", "--write-tree", "move", "raise").splitlines()[0]

        assert bare.git("show", f"{tree}:cream.toml") == BOTH

    def test_a_rename_on_one_side(self, moved_and_raised: Scratch) -> None:
        moved_and_raised.git("mv", "cream.toml", "balm.toml")
        moved_and_raised.git("commit", "-qm", "call it balm")
        moved_and_raised.git("merge", "--no-edit", "move")

        assert "oil  = 7.00" in (moved_and_raised.top / "balm.toml").read_text().split("[phase.C.charge]")[1]
        assert not (moved_and_raised.top / "cream.toml").exists()

    def test_a_file_added_on_both_sides(self, repo: Scratch) -> None:
        branch(repo, "one", {"balm.toml": CREAM})
        branch(repo, "two", {"balm.toml": CREAM.replace("wax = 2.00\n", "wax = 3.00\n")})
        repo.git("merge", "--no-edit", "one", status=1)
        text = (repo.top / "balm.toml").read_text()

        assert "<<<<<<< ours\nwax = 3.00\n||||||| base\n=======\nwax = 2.00\n>>>>>>> theirs\n" in text
        assert 2 == text.count("=======") + text.count("<<<<<<<")

    def test_a_criss_cross_history(self, repo: Scratch) -> None:
        """Both branches have merged each other once: git merges their two bases first, and nobody hears of that."""
        branch(repo, "x", {"cream.toml": MOVED})
        branch(repo, "y", {"cream.toml": RAISED})
        repo.git("merge", "--no-edit", "x")
        repo.git("checkout", "-q", "x")
        repo.git("merge", "--no-edit", "y~1")
        repo.commit({"cream.toml": cream(repo).replace("wax = 2.00", "wax = 2.50")})
        repo.git("checkout", "-q", "y")
        repo.commit({"cream.toml": cream(repo).replace("scent = 0.10", "scent = 0.12")})
        assert 2 == len(repo.git("merge-base", "--all", "x", "y").split())
        repo.git("merge", "--no-edit", "x")

        assert "oil  = 7.00" in cream(repo).split("[phase.C.charge]")[1]
        assert "wax = 2.50" in cream(repo)
        assert "scent = 0.12" in cream(repo)

    def test_a_base_with_markers_leaves_the_text_merge(self, repo: Scratch) -> None:
        """Where the two bases contradict each other git passes a base that holds a conflict."""
        branch(repo, "x", {"cream.toml": CREAM.replace("wax = 2.00", "wax = 3.00")})
        branch(repo, "y", {"cream.toml": CREAM.replace("wax = 2.00", "wax = 4.00")})
        for here, there in (("y", "x"), ("x", "y~1")):
            repo.git("checkout", "-q", here)
            repo.git("merge", "--no-edit", there, status=1)
            repo.commit({"cream.toml": CREAM.replace("wax = 2.00", "wax = 3.50")})
        repo.commit({"cream.toml": cream(repo).replace("scent = 0.10", "scent = 0.15")})
        done = repo.run("git", "merge", "--no-edit", "y")

        assert done.returncode in (0, 1)
        assert "scent = 0.15" in cream(repo)
        assert b"Traceback" not in done.stderr

    def test_other_kinds_of_files(self, repo: Scratch) -> None:
        """Two people each add a price: lines that git calls a conflict."""
        text = (repo.top / "ingredients/oil.toml").read_text()
        branch(repo, "one", {"ingredients/oil.toml": f'{text}\n[[price]]\ncost = "4 EUR/kg"\nsince = 2026-01-01\n'})
        branch(repo, "two", {"ingredients/oil.toml": f'{text}\n[[price]]\ncost = "3 EUR/kg"\nfrom = "25 kg"\n'})
        repo.git("merge", "--no-edit", "one")

        assert 2 == (repo.top / "ingredients/oil.toml").read_text().count("[[price]]")

    def test_a_workspace_in_a_folder(self, path: Path, tmp_path: Path) -> None:
        del path
        repo = armed(tmp_path / "deep", "products/cream range")
        branch(repo, "move", {"products/cream range/cream.toml": MOVED})
        branch(repo, "raise", {"products/cream range/cream.toml": RAISED})
        repo.git("rebase", "-q", "move")

        assert cream(repo, "products/cream range") == BOTH


class TestConflicts:
    def test_markers_stand_around_the_line_alone_with_its_length(self, repo: Scratch) -> None:
        repo.commit({".gitattributes": "*.toml merge=formula conflict-marker-size=9\n"})
        branch(repo, "one", {"cream.toml": RAISED})
        branch(repo, "two", {"cream.toml": RAISED.replace("7.00", "8.00").replace("wax = 2.00", "wax = 2.20")})
        repo.git("merge", "--no-edit", "one", status=1)

        marked = f"{'<' * 9} ours\noil = 8.00\n{'|' * 9} base\noil = 6.00\n{'=' * 9}\noil = 7.00\n{'>' * 9} theirs\n"
        assert cream(repo) == CREAM.replace("oil = 6.00\n", marked).replace("wax = 2.00", "wax = 2.20")

    def test_the_conflict_is_said_in_words(self, repo: Scratch) -> None:
        branch(repo, "one", {"cream.toml": RAISED})
        branch(repo, "two", {"cream.toml": RAISED.replace("7.00", "8.00")})
        done = repo.run("git", "merge", "--no-edit", "one")

        assert b"cream.toml: conflict: 'oil': its amount became 8.00 % and 7.00 % (was 6.00 %)" in done.stderr
        assert repo.git("ls-files", "-u", "cream.toml").count("\n") == 3

    def test_of_many_conflicts_the_first_are_said_and_the_rest_counted(self, repo: Scratch) -> None:
        one, two = (
            CREAM.replace('pH = "4.8 to 5.2"', f'pH = "4.{n} to 5.2"').replace("= 0.10", f"= 0.1{n}")
            .replace("= 2.00", f"= 2.0{n}").replace("= 6.00", f"= 6.0{n}").replace("= 4.00", f"= 4.0{n}")
            .replace("pct = 0.20", f"pct = 0.2{n}").replace('"Cream"', f'"Cream {n}"')
            for n in (6, 7)
        )  # fmt: skip
        branch(repo, "one", {"cream.toml": one})
        branch(repo, "two", {"cream.toml": two})
        said = repo.run("git", "merge", "--no-edit", "one").stderr.decode().splitlines()

        assert 5 == sum(": conflict: " in line for line in said)
        assert "git formula: cream.toml: and 2 more; the file marks them all" in said
        assert 5 == cream(repo).count("<<<<<<< ours")  # lines that touch share their markers


class TestAStoppedMerge:
    def test_two_legal_edits_over_a_sum_limit_stop_with_both_names(self, two_preservatives: Scratch) -> None:
        repo = two_preservatives
        done = repo.run("git", "merge", "--no-edit", "benzoate")

        said = [line for line in done.stderr.decode().splitlines() if "merge stopped" in line]
        assert done.returncode == 1
        assert len(said) == 1
        assert all(word in said[0] for word in ("0.60 %", "ours: sorbate (A)", "theirs (benzoate): benzoate (B)"))
        first, rest = cream(repo).split("\n", 1)
        assert first.startswith(STOP)
        assert "sorbate" in first
        assert "benzoate" in first
        assert rest == SORBATE.replace("wax = 2.00\n", "wax = 2.00\nbenzoate = 0.30\n")
        assert "<<<<" not in cream(repo)
        assert repo.git("ls-files", "-u", "cream.toml").count("\n") == 3

    def test_each_side_is_named_with_what_it_wrote_itself(self, repo: Scratch) -> None:
        """Both add to one list of a step; the merge has both, and neither side wrote that."""
        base = CREAM.replace('add   = ["B"]\n', 'add   = ["B", "C/acid"]\n').replace('adjust  = ["C/acid"]\n', "")
        repo.commit({"cream.toml": base})
        one, two = (base.replace('"C/acid"]', f'"C/acid", "C/{name}"]') for name in ("scent", "toner"))
        more = "scent = 0.10\ntoner = 0.10\n"
        repo.commit({"cream.toml": base.replace("scent = 0.10\n", more),
                     "ingredients/toner.toml": 'title = "toner"\n[substances]\nTalc = 100\n'})  # fmt: skip
        branch(repo, "one", {"cream.toml": one.replace("scent = 0.10\n", more)})
        branch(repo, "two", {"cream.toml": two.replace("scent = 0.10\n", more)})
        done = repo.run("git", "merge", "--no-edit", "one")

        assert done.returncode == 1
        said = done.stderr.decode()
        assert "merge stopped" in said
        assert "ours: step 'melt', adds: B, C/acid → B, C/acid, C/toner." in said
        assert "theirs (one): step 'melt', adds: B, C/acid → B, C/acid, C/scent" in said

    def test_a_commit_without_a_name_is_called_by_the_start_of_its_id(self, two_preservatives: Scratch) -> None:
        commit = two_preservatives.git("rev-parse", "benzoate").strip()
        done = two_preservatives.run("git", "merge", "--no-edit", commit)

        assert f"theirs ({commit[:10]}): ".encode() in done.stderr

    def test_check_refuses_it_until_the_line_is_gone(self, two_preservatives: Scratch) -> None:
        repo = two_preservatives
        repo.git("merge", "--no-edit", "benzoate", status=1)
        mended = cream(repo).replace("benzoate = 0.30", "benzoate = 0.15")
        repo.write("cream.toml", mended)
        found = repo.run("git-formula", "check", "cream.toml")

        assert found.returncode == 1
        assert b"[merge-stopped]" in found.stdout
        repo.write("cream.toml", mended.split("\n", 1)[1])
        assert 0 == repo.run("git-formula", "check", "cream.toml").returncode

    @pytest.mark.parametrize("command", ["rebase --merge", "cherry-pick"])
    def test_it_stops_other_commands_too(self, two_preservatives: Scratch, command: str) -> None:
        done = two_preservatives.run("git", *command.split(), "benzoate")

        assert done.returncode != 0
        assert cream(two_preservatives).startswith(STOP)

    def test_a_rebase_by_patches_is_not_asked_where_the_patch_fits(self, two_preservatives: Scratch) -> None:
        """`git rebase --apply` merges no file whose patch applies, so no driver runs: check and CI have to look."""
        two_preservatives.git("rebase", "-q", "--apply", "benzoate")

        assert 1 == two_preservatives.run("git-formula", "check").returncode

    def test_what_one_side_broke_already_does_not_stop(self, repo: Scratch) -> None:
        branch(repo, "broken", {"cream.toml": BENZOATE.replace("benzoate = 0.30", "benzoate = 0.60")})
        branch(repo, "sorbate", {"cream.toml": SORBATE})
        repo.git("merge", "--no-edit", "broken")

        assert not cream(repo).startswith(STOP)

    def test_a_total_without_a_balance(self, repo: Scratch) -> None:
        fixed = CREAM.replace('"to 100"', "87.70")
        repo.commit({"cream.toml": fixed})
        branch(repo, "one", {"cream.toml": fixed.replace("wax = 2.00", "wax = 2.20").replace("87.70", "87.50")})
        branch(repo, "two", {"cream.toml": fixed.replace("scent = 0.10", "scent = 0.30").replace("87.70", "87.50")})
        done = repo.run("git", "merge", "--no-edit", "one")

        assert done.returncode == 1
        assert b"add up to 100.2 %" in done.stderr

    def test_a_step_whose_charge_is_gone(self, repo: Scratch) -> None:
        """One takes the scent out with its step, the other adds it in another step as well."""
        out = CREAM.replace("scent = 0.10\n", "").replace('add   = ["C"]\n', "")
        more = CREAM.replace('from  = "pot"\n', 'from  = "pot"\nadd   = [{ what = "C/scent", share = "20 %" }]\n')
        branch(repo, "out", {"cream.toml": out})
        branch(repo, "more", {"cream.toml": more})
        done = repo.run("git", "merge", "--no-edit", "out")

        assert done.returncode == 1
        assert cream(repo).startswith(STOP)
        assert b"scent" in done.stderr

    def test_an_ingredient_that_breaks_a_recipe(self, repo: Scratch) -> None:
        """An ingredient is judged where it is used: each side adds some of a preservative to it."""
        blend = 'title = "blend"\n\n[substances]\n"Aqua" = 60\n"Glycerin" = 40\n'
        recipe = CREAM.replace("scent = 0.10\n", "scent = 0.10\nblend = 10\n")
        repo.commit({"ingredients/blend.toml": blend, "cream.toml": recipe})
        one = blend.replace('"Aqua" = 60', '"Aqua" = 57') + '"Sodium Benzoate" = 3\n'
        two = blend.replace('"Glycerin" = 40', '"Glycerin" = 37\n"Potassium Sorbate" = 3')
        branch(repo, "one", {"ingredients/blend.toml": one})
        branch(repo, "two", {"ingredients/blend.toml": two})
        done = repo.run("git", "merge", "--no-edit", "one")

        assert done.returncode == 1
        assert (repo.top / "ingredients/blend.toml").read_text().startswith(STOP)
        assert b"Sodium Benzoate + Potassium Sorbate" in done.stderr


class TestWhatItLeavesAlone:
    def test_no_other_file_and_no_index(self, moved_and_raised: Scratch, tmp_path: Path) -> None:
        before = sorted(path.name for path in moved_and_raised.top.iterdir())
        moved_and_raised.git("merge", "--no-edit", "--no-commit", "move")

        assert before == sorted(path.name for path in moved_and_raised.top.iterdir())
        assert not list(tmp_path.glob("**/.merge_file*"))

    def test_a_toml_file_of_another_tool_is_merged_as_text(self, repo: Scratch) -> None:
        lines = "".join(f"x{n} = {n}\n" for n in range(20))
        repo.commit({"pyproject.toml": f"[tool.x]\n{lines}"})
        branch(repo, "one", {"pyproject.toml": f"[tool.x]\n{lines}".replace("x1 = 1\n", "x1 = 11\n")})
        branch(repo, "two", {"pyproject.toml": f"[tool.x]\n{lines}".replace("x18 = 18\n", "x18 = 81\n")})
        repo.git("merge", "--no-edit", "one")

        assert "x1 = 11" in (repo.top / "pyproject.toml").read_text()
        assert "x18 = 81" in (repo.top / "pyproject.toml").read_text()

    def test_a_file_that_does_not_parse_is_merged_as_text(self, repo: Scratch) -> None:
        branch(repo, "one", {"cream.toml": CREAM.replace("wax = 2.00", "wax = 2.10")})
        branch(repo, "two", {"cream.toml": CREAM + "\n[spec\n"})
        repo.git("merge", "--no-edit", "one")

        assert cream(repo) == CREAM.replace("wax = 2.00", "wax = 2.10") + "\n[spec\n"

    def test_a_binary_stays_as_ours_has_it_and_is_a_conflict(self, repo: Scratch) -> None:
        repo.commit({"cream.toml": b"\0\1"})
        branch(repo, "one", {"cream.toml": "one"})
        (repo.top / "cream.toml").write_bytes(b"\0one")
        repo.git("commit", "-qam", "one")
        repo.git("checkout", "-q", "-b", "two", "main")
        repo.commit({"cream.toml": b"\0two"})
        repo.git("merge", "--no-edit", "one", status=1)

        assert (repo.top / "cream.toml").read_bytes() == b"\0two"


class TestWithoutTheProgram:
    """Whatever happens to git-formula, git's own text merge is there, with its status."""

    @pytest.mark.parametrize(
        "script", [None, "exit 3", "exit 2", "kill -9 $$", "kill -11 $$", 'echo "nonsense" >"$4"; exit 139', "exit 127"]
    )
    @pytest.mark.parametrize("clean", [True, False])
    def test_a_program_that_is_missing_or_crashes(
        self, repo: Scratch, path: Path, script: str | None, *, clean: bool
    ) -> None:
        branch(repo, "one", {"cream.toml": RAISED})
        other = CREAM.replace("scent = 0.10", "scent = 0.15") if clean else RAISED.replace("7.00", "8.00")
        branch(repo, "two", {"cream.toml": other})
        repo.git("config", "merge.formula.driver",
                 repo.git("config", "merge.formula.driver").rstrip("\n").replace(str(path), "/nowhere"))  # fmt: skip
        (path / "git-formula").unlink()
        if script is not None:
            (path / "git-formula").write_text(f"#!/bin/sh\n{script}\n")
            (path / "git-formula").chmod(0o755)
        done = repo.run("git", "merge", "--no-edit", "one")

        assert done.returncode == (0 if clean else 1)
        if clean:
            assert cream(repo) == RAISED.replace("scent = 0.10", "scent = 0.15")
        else:
            marked = "<<<<<<< ours\noil = 8.00\n||||||| base\noil = 6.00\n=======\noil = 7.00\n>>>>>>> theirs\n"
            assert marked in cream(repo)
        if script is None:
            assert b"git-formula is not installed here" in done.stderr

    def test_a_kill_at_any_moment(self, two_preservatives: Scratch) -> None:
        """SIGKILL at many moments: the file has the merge, or git calls it a conflict; never ours in silence."""
        repo = two_preservatives
        chance = random.Random(6)
        seen: set[str] = set()
        for number in range(24):
            ended, text = _killed(repo, chance.uniform(0, 0.5) if number % 3 else chance.uniform(0, 0.05))
            unmerged = repo.git("ls-files", "-u") != ""
            head = repo.git("rev-parse", "HEAD") != repo.git("rev-parse", "sorbate")
            if text == SORBATE:
                # ours alone: git must have said that the merge is not done
                assert ended != 0
                assert not head
                seen.add("ours, and said")
            elif text.startswith(STOP):
                assert unmerged
                seen.add("stopped")
            else:
                assert "benzoate = 0.30" in text
                seen.add("merged as text")
            repo.git("reset", "-q", "--hard", "sorbate")
            for left in repo.top.glob(".merge_file*"):
                left.unlink()
        assert "merged as text" in seen or "stopped" in seen


def _killed(repo: Scratch, after: float) -> tuple[int, str]:
    """Merge, and kill the shell of the driver and all below it (not git) after a while."""
    merging = subprocess.Popen(
        ["git", "merge", "--no-edit", "benzoate"], cwd=repo.top, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    time.sleep(after)
    for child in _below(merging.pid):
        try:
            os.kill(child, signal.SIGKILL)
        except ProcessLookupError:
            continue
    status = merging.wait(timeout=60)
    return status, cream(repo)


def _below(pid: int) -> list[int]:
    """Give the processes below one, the outermost first."""
    found: list[int] = []
    waiting = [pid]
    while waiting:
        parent = waiting.pop()
        done = subprocess.run(["ps", "-o", "pid=", "--ppid", str(parent)], capture_output=True, text=True, check=False)
        children = [int(word) for word in done.stdout.split()]
        found += children
        waiting += children
    return found
