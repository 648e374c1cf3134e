"""Real git in a temporary folder: fixed author, dates and configuration, no network."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

FIXED = {
    "GIT_AUTHOR_NAME": "Ada Formulator",
    "GIT_AUTHOR_EMAIL": "ada@example.org",
    "GIT_AUTHOR_DATE": "2026-05-02T10:00:00+00:00",
    "GIT_COMMITTER_NAME": "Ada Formulator",
    "GIT_COMMITTER_EMAIL": "ada@example.org",
    "GIT_COMMITTER_DATE": "2026-05-02T10:00:00+00:00",
    "GIT_CONFIG_GLOBAL": "/dev/null",
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_ALLOW_PROTOCOL": "file",
    "LC_ALL": "C.UTF-8",
}


class Scratch:
    """One repository.  ``git`` runs a command in it and gives stdout; a failure is the test's."""

    def __init__(self, top: Path) -> None:
        self.top = top

    def git(self, *args: str, status: int = 0, env: dict[str, str] | None = None) -> str:
        done = self.run("git", *args, env=env)
        assert done.returncode == status, done.stderr.decode("utf-8", "replace")
        return done.stdout.decode("utf-8", "surrogateescape")

    def run(self, *command: str, env: dict[str, str] | None = None) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            command, cwd=self.top, env={**os.environ, **(env or {})}, capture_output=True, check=False, timeout=60
        )

    def write(self, path: str, text: str | bytes) -> Path:
        file = self.top / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(text.encode() if isinstance(text, str) else text)
        return file

    def commit(self, files: dict[str, str | bytes], message: str = "a change") -> str:
        for path, text in files.items():
            self.write(path, text)
        self.git("add", "--all")
        self.git("commit", "--quiet", "--allow-empty", "--message", message)
        return self.git("rev-parse", "HEAD").strip()

    def hook(self, name: str, script: str) -> None:
        file = self.write(f".git/hooks/{name}", f"#!/bin/sh\n{script}\n")
        file.chmod(0o755)


def settle(monkeypatch: pytest.MonkeyPatch, home: Path) -> None:
    """Shut out the machine's own git configuration, editor, CI and running hooks."""
    for name in list(os.environ):
        if name.startswith("GIT_") or name in ("CI", "XDG_CONFIG_HOME", "NO_COLOR"):
            monkeypatch.delenv(name)
    for name, value in FIXED.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("HOME", str(home))


def scratch(folder: Path, *flags: str) -> Scratch:
    """Make an empty repository on branch main."""
    folder.mkdir(parents=True, exist_ok=True)
    made = Scratch(folder)
    made.git("init", "--quiet", "--initial-branch=main", *flags, ".")
    return made


def picture(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Give every file below a folder with its mode and bytes: what "every byte" is measured by."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): (path.stat().st_mode, path.read_bytes()) for path in files}
