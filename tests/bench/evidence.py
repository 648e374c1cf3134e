"""Measure what evidence costs: ``python tests/bench/evidence.py``.  Trust the ratios, not the seconds.

A workspace of twenty recipes with thirty commits behind it; a hundred proofs, each of one of these versions.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from formula_vcs.model.content_hash import content_hash  # noqa: E402
from formula_vcs.workspace.snapshot import Files, Snapshot  # noqa: E402
from tests.bench.workspaces import write  # noqa: E402

RECIPES, COMMITS, PROOFS = 20, 30, 100


def main() -> None:
    """Build, then time the commands with evidence and without."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder, RECIPES)
        git(folder, "init", "--quiet", "--initial-branch=main")
        versions = [commit(folder, number) for number in range(COMMITS)]
        record(folder, versions)
        git(folder, "add", "--all")
        git(folder, "commit", "--quiet", "--message=evidence")
        plain = folder.parent / f"{folder.name}-plain"
        subprocess.run(["git", "clone", "--quiet", str(folder), str(plain)], check=True)
        for path in (plain / "evidence").iterdir():
            path.unlink()
        with_proofs, without = (min(timed(where, "check") for _ in range(3)) for where in (folder, plain))
        print(f"check, {PROOFS} proofs over {COMMITS} commits: {with_proofs:.2f} s, {with_proofs / without:.2f} times")
        for where in (folder, plain):
            for path in sorted(where.glob("recipe-*.toml"))[:1]:
                change(path, COMMITS + 7)
        reviews = [min(timed(where, "review") for _ in range(3)) for where in (folder, plain)]
        diff = min(timed(folder, "diff") for _ in range(3))
        ratios = f"{reviews[0] / diff:.2f} times the diff with proofs, {reviews[1] / diff:.2f} without"
        print(f"review of one recipe: {ratios}")


def commit(folder: Path, number: int) -> tuple[str, dict[str, str]]:
    """Make one version: every recipe with another amount of its first charge."""
    for path in sorted(folder.glob("recipe-*.toml")):
        change(path, number)
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", f"--message=version {number}")
    files: Mapping[str, str] = {p.relative_to(folder).as_posix(): p.read_text() for p in folder.rglob("*.toml")}
    with Snapshot(Files(files)) as snapshot:
        hashes = {r.id: content_hash(r, snapshot.formula(r).premixes) for r in snapshot.recipes()}
    return git(folder, "rev-parse", "HEAD"), hashes


def change(path: Path, number: int) -> None:
    """Give a recipe another batch size, which changes its meaning and breaks nothing."""
    lines = [line for line in path.read_text().splitlines() if not line.startswith("batch ")]
    path.write_text("\n".join([lines[0], f'batch = "{100 + number} kg"', *lines[1:]]) + "\n")


def record(folder: Path, versions: list[tuple[str, dict[str, str]]]) -> None:
    """Write the proofs, spread over recipes and versions."""
    texts: dict[str, list[str]] = {}
    names = sorted(versions[0][1])
    for number in range(PROOFS):
        oid, hashes = versions[number * 7 % COMMITS]
        name = names[number % len(names)]
        kind = ("stability", "challenge-test", "artwork", "notification", "safety-assessment")[number // 20 % 5]
        texts.setdefault(name, [f'recipe = "{name}"\n']).append(
            f'[[proof]]\nkind = "{kind}"\ncommit = "{oid}"\nhash = "{hashes[name]}"\n'
            f'report = "R-{number}"\npassed = 2026-03-02\n'
        )
    (folder / "evidence").mkdir()
    for name, parts in texts.items():
        (folder / "evidence" / f"{name}.toml").write_text("\n".join(parts))


def git(folder: Path, *words: str) -> str:
    """Run git with nobody's configuration."""
    who = {f"GIT_{role}_{what}": "una@example.org" for role in ("AUTHOR", "COMMITTER") for what in ("NAME", "EMAIL")}
    env = {**os.environ, **who, "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}
    done = subprocess.run(["git", *words], cwd=folder, env=env, check=True, capture_output=True, text=True)
    return done.stdout.strip()


def timed(folder: Path, *words: str) -> float:
    """Run a command in a process of its own and give its seconds."""
    start = time.perf_counter()
    script = "import sys; sys.path.insert(0, sys.argv[1]); from formula_vcs.cli import main; main(sys.argv[2:])"
    subprocess.run([sys.executable, "-c", script, str(ROOT), *words], cwd=folder, check=True, capture_output=True)
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
