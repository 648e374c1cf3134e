"""Measure the budgets: ``python tests/bench/run.py`` prints the table that stands in DEVELOPERS.md.

Whole processes, the runs of all subjects interleaved so that a noisy machine is noisy for all of them; medians, and
ratios to ``python -c "import pint"`` in the same run.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import os
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.bench import workspaces

ROUNDS = int(os.environ.get("BENCH_ROUNDS", "9"))
_PROGRAM = "import sys; from formula_vcs.cli import main; sys.exit(main({arguments}))"
_ENVIRONMENT = {
    **os.environ,
    "PYTHONPATH": str(Path(__file__).resolve().parents[2]),
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_AUTHOR_NAME": "Bench",
    "GIT_AUTHOR_EMAIL": "bench@example.org",
    "GIT_COMMITTER_NAME": "Bench",
    "GIT_COMMITTER_EMAIL": "bench@example.org",
    "CI": "1",
}


def formula(*arguments: str) -> list[str]:
    """Give the command line of a whole process of ours."""
    return [sys.executable, "-c", _PROGRAM.format(arguments=list(arguments))]


def timed(command: list[str], folder: Path) -> float:
    """Run a command and give its seconds."""
    started = time.perf_counter()
    subprocess.run(
        command, cwd=folder, env=_ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False
    )
    return time.perf_counter() - started


def worked(command: list[str], folder: Path) -> float:
    """Run a command and give the seconds of the processor that it and its children took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    quiet = subprocess.DEVNULL
    subprocess.run(command, cwd=folder, env=_ENVIRONMENT, stdout=quiet, stderr=quiet, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def medians(subjects: dict[str, Callable[[], float]], rounds: int) -> dict[str, float]:
    """Run all subjects in turn, some rounds, and give each one's median seconds."""
    seen: dict[str, list[float]] = {name: [] for name in subjects}
    for _ in range(rounds):
        for name, subject in subjects.items():
            seen[name].append(subject())
    return {name: statistics.median(times) for name, times in seen.items()}


def git(folder: Path, *arguments: str) -> None:
    """Run git in a repository of the bench."""
    subprocess.run(["git", *arguments], cwd=folder, env=_ENVIRONMENT, check=True, stdout=subprocess.DEVNULL)


def changed(folder: Path, count: int) -> Path:
    """Write and commit a workspace, then change some of its recipes."""
    workspaces.write(folder, count)
    git(folder, "init", "-q")
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "-m", "Begin")
    for number in range(count):
        file = folder / f"recipe-{number}.toml"
        text = file.read_text(encoding="utf-8")
        file.write_text(re.sub(r"= (\d+\.\d\d)\n", lambda m: f"= {float(m[1]) + 0.1:.2f}\n", text, count=2), "utf-8")
    return folder


def peak(command: list[str], folder: Path) -> float:
    """Give the peak memory of a command in MB."""
    script = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL);"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    out = subprocess.run(
        [sys.executable, "-c", script, *command], cwd=folder, env=_ENVIRONMENT, capture_output=True, check=True
    )
    return int(out.stdout) / (1024 if sys.platform != "darwin" else 1024**2)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        small = workspaces.small(root / "small")
        git(small, "init", "-q")
        thousand, ten = workspaces.write(root / "thousand", 1000), workspaces.write(root / "ten-thousand", 10_000)
        hundred = changed(root / "hundred", 100)
        pint = [sys.executable, "-c", "import pint"]
        start = {
            "import pint": lambda: timed(pint, root),
            "git-formula -h": lambda: timed(formula("-h"), root),
            "check, one recipe": lambda: timed(formula("check"), small),
        }
        found = medians(start, ROUNDS)
        print("| what | s | times `import pint` | budget |\n|---|---|---|---|")
        budgets = {"import pint": "1", "git-formula -h": "0.5", "check, one recipe": "1.6"}
        for name, seconds in found.items():
            print(f"| {name} | {seconds:.3f} | {seconds / found['import pint']:.2f} | {budgets[name]} |")
        empty = found["check, one recipe"]
        many = medians(
            {
                "check, 1,000 recipes": lambda: timed(formula("check"), thousand),
                "check, 10,000 recipes": lambda: timed(formula("check"), ten),
                "check of those 100": lambda: timed(formula("check"), hundred),
                "diff, 100 changed recipes": lambda: timed(formula("diff"), hundred),
            },
            3,
        )
        rates = {
            n: c / (many[n] - empty) for n, c in (("check, 1,000 recipes", 1000), ("check, 10,000 recipes", 10_000))
        }
        for name, rate in rates.items():
            print(f"| {name} | {many[name]:.2f} | {rate:.0f} recipes a second after start-up | at least 400 |")
        ratio = many["diff, 100 changed recipes"] / many["check of those 100"]
        print(f"| diff, 100 changed recipes | {many['diff, 100 changed recipes']:.2f} | {ratio:.2f} times check | 3 |")
        print(f"| memory, check of 10,000 | {peak(formula('check'), ten):.0f} MB | | 300 MB |")


if __name__ == "__main__":
    main()
