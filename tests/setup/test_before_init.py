"""Arming a clone and taking that back gives every byte back, and a person's later work stays."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main
from tests.conftest import GitRepo

Make = Callable[..., GitRepo]
Capsys = pytest.CaptureFixture[str]
_OTHER = '[diff "formula"]\n\tcommand = other-diff\n[merge "formula"]\n\tdriver = other-merge %O %A %B\n'


def _hook(text: str, name: str = "pre-commit", mode: int = 0o755) -> Callable[[Path], None]:
    def put(top: Path) -> None:
        path = top / ".git" / "hooks" / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")
        path.chmod(mode)

    return put


def _config(text: str) -> Callable[[Path], None]:
    def put(top: Path) -> None:
        with (top / ".git" / "config").open("a", encoding="utf-8", newline="") as file:
            file.write(text)

    return put


def _attributes(data: bytes) -> Callable[[Path], None]:
    def put(top: Path) -> None:
        (top / ".gitattributes").write_bytes(data)

    return put


def _dangling(top: Path) -> None:
    (top / ".git" / "hooks").mkdir(exist_ok=True)
    (top / ".git" / "hooks" / "pre-commit").symlink_to("../../tools/not-there")


def _no_hooks(top: Path) -> None:
    for path in (top / ".git" / "hooks").glob("*"):
        path.unlink()
    (top / ".git" / "hooks").rmdir()


CASES: dict[str, Callable[[Path], None]] = {
    "nothing": lambda _top: None,
    "no folder of hooks": _no_hooks,
    "a configuration without a last line end": _config("[x]\n\ty = 1"),
    "an empty section of our name": _config('[diff "formula"]\n[merge "formula"]\n'),
    "comments in a section of our name": _config('[diff "formula"] # mine\n\t; and this\n'),
    "carriage returns": _config("[x]\r\n\ty = 1\r\n"),
    "another program's drivers": _config(_OTHER),
    "an empty .gitattributes": _attributes(b""),
    "attributes without a last line end": _attributes(b"*.png binary"),
    "attributes with carriage returns": _attributes(b"*.png binary\r\n*.txt text\r\n"),
    "attributes that name another driver": _attributes(b"*.toml diff=other merge=other\n"),
    "another program's hook": _hook("#!/bin/sh\nexit 0\n"),
    "a hook that nobody can run": _hook("#!/bin/sh\nexit 0\n", mode=0o644),
    "a hook that mentions us": _hook("#!/bin/sh\n# git-formula is not used here\nexit 0\n", "commit-msg"),
    "a hook that is a link to nowhere": _dangling,
}


def _everything(top: Path) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for folder, folders, names in os.walk(top):
        for name in (*names, *[one for one in folders if Path(folder, one).is_symlink()]):
            path = Path(folder, name)
            key = str(path.relative_to(top))
            if path.is_symlink():
                found[key] = str(path.readlink())
            elif not key.startswith((".git/objects", ".git/index", ".git/logs")):
                found[key] = (path.stat().st_mode, path.read_bytes())
    return found


@pytest.fixture
def clone(git_repo: Make, minimal: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Path:
    repo = git_repo(minimal)
    monkeypatch.chdir(repo.path)
    return repo.path


@pytest.mark.parametrize("force", [False, True], ids=["", "--force"])
@pytest.mark.parametrize("case", CASES)
def test_undo_gives_every_byte_back(clone: Path, case: str, capsys: Capsys, *, force: bool) -> None:
    CASES[case](clone)
    before = _everything(clone)
    main(["init", *(["--force"] if force else [])])
    armed = _everything(clone)
    main(["init", *(["--force"] if force else [])])  # a second time changes nothing

    assert armed != before, capsys.readouterr().out
    assert armed == _everything(clone)
    assert main(["init", "--undo"]) == 0
    assert before == _everything(clone)


def test_what_a_person_wrote_since_stays(clone: Path) -> None:
    _config(_OTHER)(clone)
    _attributes(b"*.png binary\n")(clone)
    main(["init", "--force"])
    _config('[remote "mine"]\n\turl = /elsewhere\n')(clone)
    with (clone / ".gitattributes").open("ab") as file:
        file.write(b"*.jpg binary\n")
    main(["init", "--undo"])
    config = (clone / ".git" / "config").read_text("utf-8")

    assert "url = /elsewhere" in config
    assert "other-merge %O %A %B" in config  # the value that ours took the place of comes back all the same
    assert "other-diff" in config
    assert "git-formula" not in config
    assert (clone / ".gitattributes").read_bytes() == b"*.png binary\n*.jpg binary\n"


def test_hooks_that_are_switched_off_are_said(clone: Path, capsys: Capsys) -> None:
    _config("[core]\n\thooksPath = /dev/null\n")(clone)
    for words, status in ((["init"], 1), (["init", "--force"], 1), (["init", "--status"], 1), (["init", "--undo"], 0)):
        capsys.readouterr()

        assert main(words) == status
        if "--undo" not in words:
            assert "core.hooksPath is /dev/null, no folder" in " ".join(capsys.readouterr().out.split())


def test_attributes_that_overrule_ours_are_said(clone: Path, capsys: Capsys) -> None:
    (clone / ".git" / "info").mkdir(exist_ok=True)
    (clone / ".git" / "info" / "attributes").write_text("*.toml merge=union\n", "utf-8")

    assert main(["init", "--force"]) == 1
    assert "does not count: .git/info/attributes decides first" in capsys.readouterr().out


@pytest.mark.parametrize(
    "hook",
    [
        "      - id: formula-check\n        entry: ./tools/looks-fine\n        language: system\n",
        "      - name: x\n        entry: ./tools/looks-fine # git-formula\n        id: formula-check\n",
    ],
)
def test_a_hook_of_our_id_that_runs_something_else_is_none_of_ours(clone: Path, capsys: Capsys, hook: str) -> None:
    """A committed file does not decide what counts as armed: the plain hooks are written, and run us."""
    (clone / ".pre-commit-config.yaml").write_text(f"repos:\n  - repo: local\n    hooks:\n{hook}", "utf-8")

    assert main(["init", "--status"]) == 1
    assert main(["init"]) == 0
    assert "hook pre-commit" in capsys.readouterr().out
    assert "git-formula hook" in (clone / ".git" / "hooks" / "pre-commit").read_text("utf-8")
    assert main(["init", "--status"]) == 0
