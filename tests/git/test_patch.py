"""A patch in git's own form, given to git."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from formula_vcs.git.patch import FileChange, patch

ENDS = b"one\ntwo\nthree\nfour\nfive\nsix\nseven\neight\nnine\nten"


def repository(folder: Path, files: dict[str, bytes | None]) -> Path:
    subprocess.run(["git", "init", "--quiet"], cwd=folder, check=True)
    for name, content in files.items():
        if content is not None:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
    subprocess.run(["git", "-c", "core.autocrlf=false", "add", "."], cwd=folder, check=True)
    return folder


CASES: dict[str, tuple[bytes | None, bytes | None]] = {
    "plain.toml": (b"a\nb\nc\n", b"a\nB\nc\n"),
    "new.toml": (None, b"x = 1\n"),
    "gone.toml": (b"x = 1\n", None),
    "emptied.toml": (b"x = 1\n", b""),
    "filled.toml": (b"", b"x = 1\n"),
    "empty-new.toml": (None, b""),
    "empty-gone.toml": (b"", None),
    "no-newline.toml": (ENDS, ENDS + b"\n"),
    "newline-gone.toml": (ENDS + b"\n", ENDS),
    "last-line.toml": (ENDS, ENDS.replace(b"ten", b"TEN")),
    "far-apart.toml": (ENDS * 4, (ENDS * 4).replace(b"one", b"1").replace(b"tenone", b"x")),
    "windows.toml": (b"a\r\nb\r\n", b"a\r\nB\r\nc\r\n"),
    "odd-breaks.toml": ("a\x0b\x0c\x85\u2028b\nc\n".encode(), "a\x0b\x0c\x85\u2028b\nC\n".encode()),
    "with blanks.toml": (b"a\n", b"b\n"),
    "b\u00e4lsam/cr\u00e8me.toml": ("t = \u00e9\n".encode(), "t = \u00e8\n".encode()),
    'quo"te\\.toml': (b"a\n", b"b\n"),
    "tab\there.toml": (b"a\n", b"b\n"),
    "-dash.toml": (b"--- a\n+++ b\n@@ -1 +1 @@\n", b"--- a\n+++ c\n@@ -1 +1 @@\n"),
}


@pytest.mark.parametrize("name", CASES)
def test_git_takes_it_back_and_forth(name: str, tmp_path: Path) -> None:
    old, new = CASES[name]
    repository(tmp_path, {name: old, "other.toml": b"stays\n"})
    made = patch([FileChange(name, old, new)])
    for words in (["--check"], ["--index"]):
        subprocess.run(["git", "apply", "--whitespace=nowarn", *words, "-"], cwd=tmp_path, input=made, check=True)

    there = tmp_path / name
    assert new == (there.read_bytes() if there.exists() else None)
    subprocess.run(["git", "apply", "--whitespace=nowarn", "-R", "-"], cwd=tmp_path, input=made, check=True)
    assert old == (there.read_bytes() if there.exists() else None)


def test_all_at_once_and_nothing_for_what_is_the_same(tmp_path: Path) -> None:
    repository(tmp_path, {name: old for name, (old, _) in CASES.items()})
    changes = [FileChange(name, *sides) for name, sides in CASES.items()]
    made = patch([*changes, FileChange("same.toml", b"x", b"x")])
    subprocess.run(["git", "apply", "--whitespace=nowarn", "-"], cwd=tmp_path, input=made, check=True)

    assert b"same.toml" not in made
    for name, (_, new) in CASES.items():
        assert new == ((tmp_path / name).read_bytes() if (tmp_path / name).exists() else None), name


def test_it_names_the_blobs_as_git_does(tmp_path: Path) -> None:
    repository(tmp_path, {"a.toml": b"a\n"})
    (tmp_path / "a.toml").write_bytes(b"b\n")
    environment = {**os.environ, "GIT_CONFIG_GLOBAL": os.devnull}
    git = subprocess.run(
        ["git", "diff", "--full-index", "--no-ext-diff"], cwd=tmp_path, env=environment, capture_output=True, check=True
    ).stdout

    assert git.replace(b" 100644\n", b"\n") == patch([FileChange("a.toml", b"a\n", b"b\n")])
