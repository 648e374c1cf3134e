"""What tests of every room share: workspaces in memory, the smallest one that passes, repositories of real git."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from formula_vcs.workspace.snapshot import Files, Snapshot

MINIMAL: Mapping[str, str] = {
    "workspace.toml": 'title = "Shed"\ncurrency = "EUR"\nbatch = "100 kg"\n',
    "cream.toml": (
        'title = "Cream"\n'
        "\n"
        "[phase.A.charge]\n"
        'water    = "to 100"\n'
        "glycerin = 5.00\n"
        "\n"
        "[[step]]\n"
        'id    = "mix"\n'
        'into  = "main"\n'
        'add   = ["A"]\n'
        'shear = "low"\n'
    ),
    "ingredients/water.toml": (
        'title   = "Water"\n'
        'density = "1 g/mL"\n'
        "\n"
        "[substances]\n"
        '"Aqua" = 100\n'
        "\n"
        "[origin]\n"
        "natural = 1\n"
        "natural_origin = 1\n"
        "organic = 0\n"
        "organic_origin = 0\n"
        "formulation_water = true\n"
        "\n"
        "[[price]]\n"
        'cost = "0.01 EUR/kg"\n'
    ),
    "ingredients/glycerin.toml": (
        'title   = "Glycerin"\n'
        'density = "1.26 g/mL"\n'
        "\n"
        "[substances]\n"
        '"Glycerin" = 100\n'
        "\n"
        "[origin]\n"
        "natural = 0\n"
        "natural_origin = 1\n"
        "organic = 0\n"
        "organic_origin = 0\n"
        "\n"
        "[[price]]\n"
        'cost = "2.00 EUR/kg"\n'
    ),
}

_IDENTITY = {
    "GIT_AUTHOR_NAME": "Una",
    "GIT_AUTHOR_EMAIL": "una@example.org",
    "GIT_AUTHOR_DATE": "2026-03-02T10:00:00+00:00",
    "GIT_COMMITTER_NAME": "Una",
    "GIT_COMMITTER_EMAIL": "una@example.org",
    "GIT_COMMITTER_DATE": "2026-03-02T10:00:00+00:00",
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_SYSTEM": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "LC_ALL": "C.UTF-8",
}

# Generated workspaces take the time that they take, and are shrunk only when somebody hunts a failure
# (HYPOTHESIS_PROFILE=hunt): to the end that is many minutes.  In CI every run draws the same ones.
settings.register_profile(
    "laws",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    print_blob=True,
)
settings.register_profile("ci", settings.get_profile("laws"), derandomize=True, database=None)
settings.register_profile("hunt", settings.get_profile("laws"), phases=list(Phase)[:-1])
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "laws"))

# What computes and asks neither git nor a terminal: `pytest -m fast` runs its tests in less than a minute.
FAST = frozenset(
    [
        "batches",
        "diff",
        "evidence",
        "figures",
        "law",
        "mending",
        "model",
        "process",
        "review",
        "rules",
        "survey",
        "toml",
        "trace",
        "units",
        "words",
        "workspace",
    ]
)

MakeWorkspace = Callable[..., Snapshot]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the quick tests of the rooms that only compute."""
    tests = Path(__file__).parent
    for item in items:
        if item.path.relative_to(tests).parts[0] in FAST and item.get_closest_marker("slow") is None:
            item.add_marker("fast")


@pytest.fixture
def minimal() -> dict[str, str]:
    """Give the texts of the smallest workspace that passes: one recipe, two ingredients."""
    return dict(MINIMAL)


@pytest.fixture
def workspace() -> MakeWorkspace:
    """Give a maker of workspaces in memory: the minimal one with files changed, added or (None) taken away."""

    def make(files: Mapping[str, str | bytes | None] | None = None, *, bare: bool = False) -> Snapshot:
        texts: dict[str, str | bytes] = {} if bare else dict(MINIMAL)
        for path, text in (files or {}).items():
            if text is None:
                texts.pop(path, None)
            else:
                texts[path] = text
        return Snapshot(Files(texts))

    return make


class GitRepo:
    """A repository of real git, with a fixed identity and nobody's configuration."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.git("init", "--quiet", "--initial-branch=main")

    def git(self, *words: str) -> str:
        """Run git and give what it prints."""
        done = subprocess.run(
            ["git", *words], cwd=self.path, check=True, capture_output=True, env={**os.environ, **_IDENTITY}
        )
        return done.stdout.decode("utf-8", "replace").strip()

    def write(self, files: Mapping[str, str | bytes]) -> None:
        """Write files."""
        for name, text in files.items():
            path = self.path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode() if isinstance(text, str) else text)

    def commit(self, message: str = "change", files: Mapping[str, str | bytes] | None = None) -> str:
        """Write files, commit everything, and give the id of the commit."""
        self.write(files or {})
        self.git("add", "--all")
        self.git("commit", "--quiet", "--allow-empty", f"--message={message}")
        return self.git("rev-parse", "HEAD")


@pytest.fixture
def git_repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., GitRepo]:
    """Give a maker of repositories; git as our code runs it sees the same identity and configuration."""
    for name in [name for name in os.environ if name.startswith("GIT_")]:
        monkeypatch.delenv(name)
    for name, value in _IDENTITY.items():
        monkeypatch.setenv(name, value)

    def make(files: Mapping[str, str | bytes] | None = None, name: str = "repo") -> GitRepo:
        path = tmp_path / name
        path.mkdir()
        repo = GitRepo(path)
        if files is not None:
            repo.commit("first", files)
        return repo

    return make


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Let a worker that is done take from the others: the hostile files are minutes long and stand together."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)
