"""Where git, the system or a person at the keyboard stops us: one line, status 2, and no answer made of that."""

from __future__ import annotations

import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import tree_sitter

from formula_vcs.cli import main

READERS = (
    ("check",), ("review", "HEAD~1..HEAD"), ("blame", "hand-cream"), ("log", "hand-cream"),
    ("trace", "hc-040", "hc-041"), ("diff", "HEAD~1"), ("check", "--staged"),
)  # fmt: skip


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the demo once."""
    folder = tmp_path_factory.mktemp("demo") / "island"
    assert main(["demo", str(folder)]) == 0
    return folder


@pytest.fixture
def island(built: Path, tmp_path: Path) -> Path:
    """Give a copy of it to break."""
    shutil.copytree(built, tmp_path / "island", symlinks=True)
    return tmp_path / "island"


def run(folder: Path, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])} | more
    return subprocess.run(
        [sys.executable, "-m", "formula_vcs", *words], cwd=folder, env=env, capture_output=True, text=True, check=False
    )


def refused(done: subprocess.CompletedProcess[str], words: str = "") -> None:
    assert done.returncode == 2, done.stdout[:500] + done.stderr
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1, done.stderr
    assert done.stderr.startswith("git formula: ")
    assert words in done.stderr


@pytest.mark.parametrize("words", READERS, ids=" ".join)
def test_without_git_nothing_is_answered(island: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    """Without git on PATH no commit is called missing and no line "not yet committed"."""
    (tmp_path / "empty").mkdir()

    refused(run(island, *words, PATH=str(tmp_path / "empty")), "git does not run")


@pytest.mark.parametrize("words", READERS, ids=" ".join)
def test_a_broken_configuration_is_said(island: Path, words: tuple[str, ...]) -> None:
    more = {"GIT_CONFIG_COUNT": "1", "GIT_CONFIG_KEY_0": "core.bigFileThreshold", "GIT_CONFIG_VALUE_0": "often"}

    refused(run(island, *words, **more), "bad numeric config value")


@pytest.mark.skipif(os.geteuid() != 0, reason="only root gives files away")
@pytest.mark.parametrize("words", READERS, ids=" ".join)
def test_a_repository_of_somebody_else_is_said(island: Path, words: tuple[str, ...]) -> None:
    """The usual case in CI: the checkout belongs to another user than the container's."""
    os.chown(island, 65534, 65534)
    os.chown(island / ".git", 65534, 65534)

    refused(run(island, *words, HOME="/nonexistent"), "belongs to another user")


@pytest.mark.parametrize("words", [words for words in READERS if words[0] != "trace"], ids=" ".join)
def test_a_head_that_names_nothing_is_said(island: Path, words: tuple[str, ...]) -> None:
    (island / ".git" / "refs" / "heads").mkdir(parents=True, exist_ok=True)
    (island / ".git" / "refs" / "heads" / "main").write_text("1" * 40 + "\n", "ascii")

    refused(run(island, *words))


def _git(folder: Path, *words: str) -> str:
    return subprocess.run(["git", *words], cwd=folder, check=True, capture_output=True, text=True).stdout


@pytest.mark.parametrize("command", ["review", "diff"])
def test_nothing_is_compared_with_itself(island: Path, tmp_path: Path, command: str) -> None:
    """In a bare repository that lies in a workspace, and under GIT_DIR, the commits that were named are compared."""
    bare = island / "backup.git"
    _git(island, "clone", "--quiet", "--bare", ".", str(bare))
    shutil.copytree(bare, tmp_path / "x.git")
    here = run(island, command, "main...proposal")
    found = [
        run(bare, command, "main...proposal"),
        run(island, command, "main...proposal", GIT_DIR=str(tmp_path / "x.git")),
    ]

    for done in found:
        assert done.returncode == here.returncode, done.stderr
        assert done.stdout == here.stdout
        assert "No difference" not in done.stdout


@pytest.mark.parametrize("lost", ["HEAD~5:hand-cream.toml", "HEAD~5^{tree}", "HEAD~7"])
@pytest.mark.parametrize("damage", [None, b"garbage"], ids=["missing", "damaged"])
def test_no_answer_from_half_a_history(island: Path, lost: str, damage: bytes | None) -> None:
    """Where an object of the history is gone or damaged, whoever reads the history says so."""
    for pack in (island / ".git" / "objects" / "pack").glob("*.pack"):
        data = pack.read_bytes()
        pack.with_suffix(".idx").unlink()
        pack.unlink()
        subprocess.run(["git", "unpack-objects", "-q"], cwd=island, input=data, check=True, capture_output=True)
    oid = _git(island, "rev-parse", lost).strip()
    file = island / ".git" / "objects" / oid[:2] / oid[2:]
    file.unlink()
    if damage is not None:
        file.write_bytes(damage)
    for words in (("blame", "hand-cream"), ("log", "hand-cream"), ("check",)):
        refused(run(island, *words))


def test_pathspecs_of_the_shell_do_not_count(island: Path) -> None:
    for name in ("GIT_GLOB_PATHSPECS", "GIT_ICASE_PATHSPECS", "GIT_NOGLOB_PATHSPECS"):
        done = run(island, "check", **{name: "1"})

        assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("words", [("review", "x" * 300), ("diff", "x" * 300), ("check", "y" * 5000)])
def test_a_word_that_no_file_can_be_called(island: Path, words: tuple[str, ...]) -> None:
    done = run(island, *words)

    assert done.returncode == 2, done.stderr
    assert "bug" not in done.stderr


@pytest.mark.parametrize("most", [9, 10, 12, 16])
def test_few_open_files_are_said(island: Path, most: int) -> None:
    """With hardly a file to open it works, or ends in one line."""
    command = [sys.executable, "-m", "formula_vcs", "check"]
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(
        command, cwd=island, env=env, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (most, most)),
    )  # fmt: skip

    assert done.returncode in (0, 2), done.stderr
    assert "Traceback" not in done.stderr
    assert "bug" not in done.stderr


@pytest.mark.slow
def test_control_c_shows_no_traceback(island: Path) -> None:
    """Stopped at any moment, while it loads too, it ends without a word of Python's."""
    # without `site`, whose own start would be what is stopped; the libraries are named instead
    libraries = Path(tree_sitter.__file__).parents[1]
    env = os.environ | {"PYTHONPATH": os.pathsep.join((str(Path(__file__).parents[2]), str(libraries)))}
    for number in range(24):
        with subprocess.Popen(
            [sys.executable, "-S", "-m", "formula_vcs", "check"], cwd=island, env=env, text=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True,
        ) as process:  # fmt: skip
            time.sleep(0.03 + number * 0.01)
            process.send_signal(signal.SIGINT)
            _, said = process.communicate()

        # before our first line runs Python itself may be stopped, while it finds the package
        ours = re.search(r"formula_vcs/(?!__(?:init|main)__\.py)[\w/]+\.py", said)
        assert "Traceback" not in said or ours is None, said
        assert process.returncode in (0, 130, -signal.SIGINT) or "Traceback" in said, said
