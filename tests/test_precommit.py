"""The hooks as they run at a commit: real pre-commit, real git, the demo's workspace."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

_LOCAL = """\
default_install_hook_types: [pre-commit, commit-msg, pre-merge-commit]
repos:
  - repo: local
    hooks:
      - id: formula-check
        name: formula-check
        entry: git-formula check --staged --hook
        language: system
        pass_filenames: false
        always_run: true
        require_serial: true
        stages: [pre-commit, pre-merge-commit]
{more}"""
_REASON = """\
      - id: formula-reason
        name: formula-reason
        entry: git-formula reason --required
        language: system
        always_run: true
        stages: [commit-msg]
"""


class Scratch:
    """A scratch repository with the demo's recipes in a sub-folder and real pre-commit installed."""

    def __init__(self, path: Path, environment: dict[str, str]) -> None:
        self.path = path
        self.environment = environment

    def run(self, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
        """Run a program in the repository."""
        return subprocess.run(
            words,
            cwd=self.path,
            env={**self.environment, **more},
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )

    def git(self, *words: str) -> str:
        """Run git, which has to succeed."""
        done = self.run("git", *words)

        assert 0 == done.returncode, done.stdout + done.stderr

        return done.stdout

    def edit(self, name: str, old: str, new: str) -> None:
        """Replace one text in a recipe."""
        file = self.path / "recipes" / name
        text = file.read_text(encoding="utf-8")

        assert old in text

        file.write_text(text.replace(old, new, 1), encoding="utf-8")

    def refused(self, *words: str) -> str:
        """Commit, which has to be refused, and give what was said."""
        done = self.run("git", "commit", *words)

        assert 0 != done.returncode

        return done.stdout + done.stderr


def _environment(tmp_path: Path) -> dict[str, str]:
    programs = tmp_path / "bin"
    programs.mkdir()
    program = programs / "git-formula"
    program.write_text(f'#!/bin/sh\nPYTHONPATH="{ROOT}" exec "{sys.executable}" -m formula_vcs "$@"\n', "utf-8")
    program.chmod(0o755)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")}
    return {
        **kept,
        "PATH": f"{programs}{os.pathsep}{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_SYSTEM": os.devnull,
        "GIT_AUTHOR_NAME": "Una",
        "GIT_AUTHOR_EMAIL": "una@example.org",
        "GIT_COMMITTER_NAME": "Una",
        "GIT_COMMITTER_EMAIL": "una@example.org",
        "PRE_COMMIT_HOME": str(tmp_path / "pre-commit"),
        "NO_COLOR": "1",
    }


@pytest.fixture
def scratch(tmp_path: Path) -> Callable[..., Scratch]:
    """Give a maker of scratch repositories."""

    def make(more: str = "", config: str = _LOCAL) -> Scratch:
        here = Scratch(tmp_path / "repository", _environment(tmp_path))
        here.path.mkdir()
        here.git("init", "-q", "-b", "main")
        shutil.copytree(ROOT / "recipes", here.path / "recipes")
        (here.path / ".pre-commit-config.yaml").write_text(config.format(more=more), encoding="utf-8")
        here.git("add", "-A")
        installed = here.run(sys.executable, "-m", "pre_commit", "install")

        assert 0 == installed.returncode, installed.stderr

        here.git("commit", "-q", "-m", "Begin\n\nReason: a beginning")
        return here

    return make


def test_a_total_of_100_05_is_refused_with_the_line(scratch: Callable[..., Scratch]) -> None:
    """A recipe without a balance whose charges add up to 100.05 is not committed."""
    here = scratch()
    here.edit("face-polish.toml", 'water             = "to 100"', "water             = 49.65")

    said = here.refused("-am", "Round the water")

    assert "recipes/face-polish.toml:42:23: block [total]" in said
    assert "the charges add up to 100.05 %, 0.05 too much" in said


def test_the_polishing_grade_where_the_thickening_was_is_refused_with_the_step(
    scratch: Callable[..., Scratch],
) -> None:
    """The step that would mill it is named, though no percentage changed."""
    here = scratch()
    here.edit("face-polish.toml", "silica-thickening = 4.50", "silica-polishing = 4.50")

    said = here.refused("-am", "Use one silica")

    assert "[shear-at-most]" in said
    assert "step 'open-silica' works at high shear" in said


def test_a_sound_change_is_committed_in_every_form(scratch: Callable[..., Scratch]) -> None:
    """Staged text is read under commit, commit -a and commit -- path, whatever lies in the work tree."""
    here = scratch()
    here.edit("face-polish.toml", "glycerin          = 14.00", "glycerin          = 13.00")
    here.git("commit", "-q", "-am", "Less glycerin")
    here.edit("hand-cream.toml", 'title   = "', 'title   = "New ')
    here.edit("face-polish.toml", "glycerin          = 13.00", "glycerin          = 99.00")
    here.git("commit", "-q", "-m", "Rename", "--", "recipes/hand-cream.toml")
    said = here.refused("-m", "Too much", "--", "recipes/face-polish.toml")

    assert "[balance-left]" in said


def test_only_what_is_staged_counts(scratch: Callable[..., Scratch]) -> None:
    """A bad recipe that is staged is refused though the work tree has been mended, and the other way round."""
    here = scratch()
    here.edit("face-polish.toml", "glycerin          = 14.00", "glycerin          = 99.00")
    here.git("add", "-A")
    here.edit("face-polish.toml", "glycerin          = 99.00", "glycerin          = 14.00")

    assert "[balance-left]" in here.refused("-m", "Bad")

    here.git("add", "-A")
    here.edit("face-polish.toml", "glycerin          = 14.00", "glycerin          = 99.00")
    here.git("commit", "-q", "--allow-empty", "-m", "Good")


def test_deleting_an_ingredient_that_is_used_is_refused(scratch: Callable[..., Scratch]) -> None:
    """A commit of deletions alone is checked too."""
    here = scratch()
    here.git("rm", "-q", "recipes/ingredients/glycerin.toml")

    said = here.refused("-m", "Drop glycerin")

    assert "'glycerin': no such ingredient" in said


def test_a_merge_that_breaks_a_recipe_is_refused(scratch: Callable[..., Scratch]) -> None:
    """Both sides raise the clay by the point that each took elsewhere: merged cleanly, a point is missing."""
    here = scratch()
    here.edit("face-polish.toml", 'water             = "to 100"', "water             = 49.60")
    here.git("commit", "-q", "-am", "Fix the water")
    for branch, old, new in (
        ("left", "glycerin          = 14.00", "glycerin          = 13.00"),
        ("right", "silica-polishing = 9.00", "silica-polishing = 8.00"),
    ):
        here.git("checkout", "-q", "-b", branch, "main")
        here.edit("face-polish.toml", old, new)
        here.edit("face-polish.toml", "kaolin-white = 12.00", "kaolin-white = 13.00")
        here.git("commit", "-q", "-am", f"More clay, {branch}")

    merged = here.run("git", "merge", "--no-edit", "left")

    assert 0 != merged.returncode
    assert "the charges add up to 99 %, 1 too little" in merged.stdout + merged.stderr


def test_a_reason_is_asked_for_where_a_composition_changed(scratch: Callable[..., Scratch]) -> None:
    """The hook offers the summary of the change and is content with a Reason: line."""
    here = scratch(more=_REASON)
    here.edit("face-polish.toml", "glycerin          = 14.00", "glycerin          = 13.00")
    said = here.refused("-am", "Less tack")

    assert "face-polish: glycerin (A): 14.00 → 13.00 %" in said

    here.git("commit", "-q", "-am", "Less tack\n\nReason: panel found it sticky")
    here.edit("face-polish.toml", 'title   = "', 'title   = "New ')
    here.git("commit", "-q", "-am", "Rename, which needs no reason")


def test_a_linked_work_tree_is_checked_too(scratch: Callable[..., Scratch], tmp_path: Path) -> None:
    """The hooks of a linked work tree get GIT_DIR from git; its own index is the one that is read."""
    here = scratch()
    here.git("worktree", "add", "-q", str(tmp_path / "linked"))
    linked = Scratch(tmp_path / "linked", here.environment)
    linked.edit("face-polish.toml", "glycerin          = 14.00", "glycerin          = 99.00")

    assert "[balance-left]" in linked.refused("-am", "Too much")


@pytest.mark.slow
def test_the_manifest_installs_and_runs(tmp_path: Path) -> None:
    """``pre-commit try-repo`` builds this repository and runs its hook on a sound and on a broken workspace."""
    if not (ROOT / ".git").exists():
        pytest.skip("this is no clone: try-repo needs one")
    here = Scratch(tmp_path / "repository", _environment(tmp_path))
    here.path.mkdir()
    here.git("init", "-q", "-b", "main")
    shutil.copytree(ROOT / "recipes", here.path / "recipes")
    here.git("add", "-A")
    tried = here.run(sys.executable, "-m", "pre_commit", "try-repo", str(ROOT), "formula-check", "--verbose")
    if "Could not find a version" in tried.stdout + tried.stderr or "No matching distribution" in tried.stdout:
        pytest.skip("no package index can be reached from here")

    assert 0 == tried.returncode, tried.stdout + tried.stderr
    assert "Passed" in tried.stdout


@pytest.mark.parametrize("removed", [("-q",), ("-q", "--cached")])
@pytest.mark.parametrize("with_it", [(), ("recipes/ingredients",)])
def test_the_workspace_file_alone_is_not_taken_away(
    scratch: Callable[..., Scratch], removed: tuple[str, ...], with_it: tuple[str, ...]
) -> None:
    """Without ``workspace.toml`` nothing would be checked any more; a workspace that goes whole may go."""
    here = scratch()
    here.git("rm", "-r", *removed, "recipes/workspace.toml", *with_it)

    assert re.search(r"workspace.toml goes with this commit and \S+\.toml stays", here.refused("-m", "Tidy"))

    here.git("rm", "-rq", "--cached", "recipes")
    here.git("commit", "-q", "-m", "Move the recipes")
