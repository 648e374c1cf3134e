"""A shed with a history that tests write, commit by commit, on real git; days go by themselves."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from formula_vcs.git import repository
from formula_vcs.history.versions import History, versions
from tests.conftest import MINIMAL

CREAM = (
    'title = "Cream"\n'
    'product = "hand cream"\n'
    'claims = ["natural-origin at least 95 %"]\n'
    "\n"
    "[phase.A.charge]\n"
    'water    = "to 100"  # tap\n'
    "glycerin = 5.00\n"
    "\n"
    "[phase.B.charge]\n"
    "oil      = 6.00\n"
    "\n"
    "[[step]]\n"
    'id    = "mix"\n'
    'into  = "main"\n'
    'add   = ["A", "B/oil"]\n'
    'shear = "low"\n'
    'time  = "5 min"\n'
    "\n"
    "[spec]\n"
    'pH = "5 to 6"\n'
)


def material(title: str, inci: str, *, organic: str = "0", natural_origin: str = "1", price: str = "2.00") -> str:
    """Write an ingredient of one substance."""
    return (
        f'title = "{title}"\ndensity = "1 g/mL"\n\n[substances]\n"{inci}" = 100\n\n'
        f"[origin]\nnatural = 0\nnatural_origin = {natural_origin}\norganic = {organic}\n"
        f'organic_origin = {organic}\n\n[[price]]\ncost = "{price} EUR/kg"\n'
    )


SHED: Mapping[str, str] = {
    **MINIMAL,
    "cream.toml": CREAM,
    "ingredients/oil.toml": material("Oil", "Helianthus Annuus Seed Oil"),
    "ingredients/oil-organic.toml": material("Oil, organic", "Helianthus Annuus Seed Oil", organic="1"),
    "ingredients/spare.toml": material("Spare", "Squalane"),
}


class Shed:
    """A repository with a workspace in it; each commit is a day later than the one before."""

    def __init__(self, path: Path, files: Mapping[str, str] = SHED, folder: str = "") -> None:
        self.path = path
        self.folder = folder
        self._day = 0
        path.mkdir(parents=True, exist_ok=True)
        self.git("init", "--quiet", "--initial-branch=main")
        self.first = self.commit("Begin", files)

    def git(self, *words: str) -> str:
        """Run git and give what it prints."""
        when = f"2026-01-{1 + self._day:02d}T10:00:00+00:00"
        env = {**os.environ, "GIT_AUTHOR_DATE": when, "GIT_COMMITTER_DATE": when}
        done = subprocess.run(["git", *words], cwd=self.path, check=True, capture_output=True, env=env)
        return done.stdout.decode("utf-8", "replace").strip()

    def write(self, files: Mapping[str, str]) -> None:
        """Write files of the workspace."""
        for name, text in files.items():
            file = self.path / self.folder / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8", newline="")

    def commit(self, message: str, files: Mapping[str, str] | None = None) -> str:
        """Write files, commit everything, and give the id."""
        self._day += 1
        self.write(files or {})
        self.git("add", "--all")
        self.git("commit", "--quiet", "--allow-empty", f"--message={message}")
        return self.git("rev-parse", "HEAD")

    def edit(self, message: str, *edits: tuple[str, str], file: str = "cream.toml") -> str:
        """Change pieces of text that each stand once in a file, and commit."""
        text = (self.path / self.folder / file).read_text("utf-8")
        for old, new in edits:
            assert text.count(old) == 1, f"'{old}' stands {text.count(old)} times in {file}"
            text = text.replace(old, new)
        return self.commit(message, {file: text})

    def branch(self, name: str, start: str = "HEAD") -> None:
        """Begin a branch."""
        self.git("checkout", "--quiet", "-b", name, start)

    def switch(self, name: str) -> None:
        """Stand on a branch."""
        self.git("checkout", "--quiet", name)

    def merge(self, name: str, *flags: str) -> str:
        """Merge a branch with a commit of its own."""
        self._day += 1
        self.git("merge", "--quiet", "--no-ff", "--no-edit", *flags, name)
        return self.git("rev-parse", "HEAD")

    def history(self, recipe: str = "cream", tip: str = "HEAD", **options: Any) -> History:
        """Read the versions of a recipe."""
        return versions(repository.open_repo(self.path), self.folder, recipe, tip, **options)


def ids(history: History) -> list[str]:
    """Name the commits of the versions, oldest first."""
    return [version.commit.oid for version in history.versions]


def statuses(history: History) -> list[str]:
    """Give the status of each version, oldest first."""
    return [version.status for version in history.versions]


REINDENTED = (
    'claims = [\n    "natural-origin at least 95 %",\n]\n'
    'title="Cream"\n'
    "product='hand cream'\n"
    "[spec]\n"
    '   pH = "5 to 6"\n'
    "[phase]\n"
    "[phase.A]\n"
    "[phase.A.charge]\n"
    "   glycerin = 5.0        # checked twice\n"
    '   water = "to 100"\n'
    "[phase.B.charge]\n"
    "\toil = 6\n"
    "[[step]]\n"
    '   time="5 min"\n'
    "   shear='low'\n"
    '   add = ["A",   "B/oil"]\n'
    '   into="main"\n'
    '   id="mix"\n'
)
