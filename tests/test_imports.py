"""What the commands on the hot path load: a hook runs at every commit, a diff driver once a file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from formula_vcs.cli import AS_A_HOOK as HOOK
from formula_vcs.cli import parser_of
from formula_vcs.commands.check import AS_A_HOOK
from formula_vcs.model.content_hash import content_hash
from formula_vcs.workspace.snapshot import Snapshot, WorkTree

ROOT = Path(__file__).resolve().parents[1]
# Measured with CPython 3.11: tomlkit 32 ms, GitPython 85, deepdiff 88, tree-sitter 23, asyncio 46, jinja2 54.
HEAVY = (
    "asyncio",
    "deepdiff",
    "difflib",
    "git",
    "importlib.metadata",
    "jinja2",
    "numpy",
    "openpyxl",
    "pint",
    "pre_commit",
    "pydantic",
    "scipy",
    "tomlkit",
    "tree_sitter",
    "tree_sitter_toml",
    "unittest",
)
# pint brings these by itself, as far as they are installed.
OF_PINT = {"importlib.metadata", "numpy", "scipy", "unittest", "difflib", "pint"}

_WORKSPACE = {
    "workspace.toml": 'title = "Small"\n',
    "gel.toml": (
        'title = "Gel"\nproduct = "gel"\n\n[phase.A.charge]\nwater = "to 100"\nglycerin = 70.00\n\n'
        '[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\ntime = "8 min"\n'
    ),
    "ingredients/water.toml": 'title = "Water"\n\n[substances]\nAqua = 100\n',
    "ingredients/glycerin.toml": 'title = "Glycerin"\n\n[substances]\nGlycerin = 100\n',
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a small workspace in a repository."""
    for name, text in _WORKSPACE.items():
        file = tmp_path / name
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")
    subprocess.run(["git", "init", "-q"], cwd=tmp_path, check=True)
    subprocess.run(["git", "add", "-A"], cwd=tmp_path, check=True)
    return tmp_path


def loaded(folder: Path, *arguments: str) -> set[str]:
    """Run a command in a process of its own and name the heavy modules that it has loaded by its end."""
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); from formula_vcs.cli import main;"
        "status = main(sys.argv[2:]); print(*sorted(sys.modules), file=sys.stderr); sys.exit(status)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(ROOT), *arguments], cwd=folder, capture_output=True, text=True, check=False
    )

    assert 0 == done.returncode, done.stderr[-500:]

    return set(done.stderr.split()) & set(HEAVY)


def test_check_loads_nothing_heavy(folder: Path) -> None:
    """A check of a recipe with common units and without findings needs no heavy library, not even pint."""
    assert set() == loaded(folder, "check")
    assert set() == loaded(folder, "check", "--staged", "--hook")


def test_a_check_of_evidence_loads_nothing_heavy(folder: Path) -> None:
    """A pinned version is found, hashed and judged without them, also in the hook."""
    git = ["git", "-c", "user.name=Una", "-c", "user.email=una@example.org"]
    subprocess.run([*git, "commit", "-q", "--date=2026-03-01T10:00:00Z", "-m", "gel"], cwd=folder, check=True)
    done = subprocess.run([*git, "rev-parse", "HEAD"], cwd=folder, check=True, capture_output=True, text=True)
    with Snapshot(WorkTree(folder)) as files:
        recipe = files.recipe("gel")
        assert recipe is not None
        hashed = content_hash(recipe, files.formula(recipe).premixes)
    (folder / "evidence").mkdir()
    (folder / "evidence" / "gel.toml").write_text(
        f'recipe = "gel"\n\n[[proof]]\nkind = "stability"\ncommit = "{done.stdout.strip()}"\nhash = "{hashed}"\n'
        'report = "ST-1"\npassed = 2026-05-02\n',
        encoding="utf-8",
    )
    subprocess.run(["git", "add", "-A"], cwd=folder, check=True)

    assert set() == loaded(folder, "check")
    assert set() == loaded(folder, "check", "--staged", "--hook")


def test_an_uncommon_unit_loads_pint_and_nothing_else(folder: Path) -> None:
    """What the table of common units does not hold, pint reads."""
    file = folder / "ingredients" / "water.toml"
    file.write_text('title = "Water"\n\n[substances]\nAqua = 100\n\n[spec]\nfilm = "3 kg/m^2"\n', encoding="utf-8")

    heavy = loaded(folder, "check")

    assert "pint" in heavy
    assert heavy <= OF_PINT


def test_the_diff_driver_loads_nothing_heavy(folder: Path) -> None:
    """The driver runs once a file: it must not read git's history or load a second TOML library."""
    old = folder / "old.txt"
    old.write_text(_WORKSPACE["gel.toml"].replace("70.00", "71.00"), encoding="utf-8")

    assert set() == loaded(
        folder, "diff-driver", "gel.toml", str(old), "1" * 40, "100644", "gel.toml", "0" * 40, "100644"
    )


def test_the_merge_driver_loads_a_parser_for_writing_and_nothing_else(folder: Path) -> None:
    """It runs once a file that both sides changed; tree-sitter finds the places in the text of ours."""
    base = _WORKSPACE["gel.toml"]
    sides = {"base": base, "ours": base.replace("8 min", "9 min"), "theirs": base.replace("70.00", "71.00")}
    for name, text in sides.items():
        (folder / f"{name}.txt").write_text(text, encoding="utf-8")

    heavy = loaded(folder, "merge-driver", "base.txt", "ours.txt", "theirs.txt", "7", "gel.toml")

    assert heavy == {"tree_sitter", "tree_sitter_toml"}
    assert base.replace("8 min", "9 min").replace("70.00", "71.00") == (folder / "ours.txt").read_text("utf-8")


def test_the_overview_loads_nothing(folder: Path) -> None:
    """-h answers from a table."""
    assert set() == loaded(folder, "-h")


def test_log_and_blame_load_nothing_heavy(folder: Path) -> None:
    """Reading a history needs git and the parser alone."""
    who = ["-c", "user.name=Una", "-c", "user.email=una@example.org"]
    subprocess.run(["git", *who, "commit", "-q", "-m", "Begin"], cwd=folder, check=True)

    assert set() == loaded(folder, "log", "gel")
    assert set() == loaded(folder, "blame", "gel")


def test_a_hook_reads_its_words_as_the_parser_does() -> None:
    """It loads no parser, so what it takes for its words must be what a parser would make of them."""
    assert AS_A_HOOK == vars(parser_of("check").parse_intermixed_args(HOOK[1:]))


def test_a_hook_loads_little_that_nobody_uses(folder: Path) -> None:
    """What took long to load, and is not needed where a recipe is judged."""
    script = (
        "import os, sys; sys.path.insert(0, sys.argv[1]); sys.argv = ['x', 'check', '--staged', '--hook'];"
        "os._exit = lambda _status: print(*sys.modules, file=sys.stderr);"
        "from formula_vcs.__main__ import run; run()"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(ROOT)], cwd=folder, capture_output=True, text=True, check=False
    )
    seen = set(done.stderr.split())

    assert "formula_vcs.rules.judge" in seen
    assert set() == seen & {
        "_hashlib", "argparse", "calendar", "dataclasses", "formula_vcs.review.compare", "gettext", "heapq", "inspect",
        "multiprocessing", "pickle", "secrets", "shutil", "tempfile",
    }  # fmt: skip
