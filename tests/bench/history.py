"""``log`` and ``blame`` over 2,000 commits against git itself: ``python tests/bench/history.py`` prints the table.

A workspace of 50 recipes is generated with 2,000 commits that change amounts, prices, steps and layout, some on
branches that are merged.  Git's own share is ``git log --raw -z`` piped through ``git cat-file --batch``.  Runs are
interleaved, medians are taken, and the ratio is of one run.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import os
import random
import re
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

# An installed package has its bytecode; without it the compiler would be measured.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
os.environ["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "formula-bench-bytecode")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from formula_vcs.setup.history_writer import Person, StoryCommit, create
from tests.bench import workspaces
from tests.bench.run import formula, medians, peak, timed

RECIPES = 50
COMMITS = 2000
ROUNDS = int(os.environ.get("BENCH_ROUNDS", "5"))
_BEGIN = datetime(2020, 1, 1, 9, tzinfo=UTC)
_WHO = Person("Bench", "bench@example.org")
_BRANCH = 40  # every so many commits one stands on a branch, and the next one merges it
GIT = (
    "git log --reverse --raw -z -M --no-abbrev --format=%H --diff-merges=first-parent HEAD | tr '\\0' '\\n' | "
    "sed -n 's/^:[0-7]* [0-7]* [0-9a-f]* \\([0-9a-f]*\\) .*/\\1/p' | git cat-file --batch --buffer > /dev/null"
)


def changed(text: str, number: int, chance: random.Random) -> str:
    """Change a file as people do: mostly an amount or a price, sometimes a time, sometimes the layout alone."""
    kind = number % 10
    if kind == 9:
        return text + f"# looked at, {number}\n"
    if kind == 8 and 'time = "' in text:
        return re.sub(r'time = "\d+ min"', f'time = "{chance.randint(5, 40)} min"', text, count=1)
    found = list(re.finditer(r"\d+\.\d\d", text))
    spot = chance.choice(found)
    return f"{text[: spot.start()]}{chance.uniform(0.1, 4):.2f}{text[spot.end() :]}"


def history(folder: Path) -> None:
    """Write the repository."""
    chance = random.Random(7)
    workspaces.write(folder, RECIPES)
    files = {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*.toml"))}
    names = sorted(name for name in files if name.startswith(("recipe-", "ingredients/")))
    commits = [StoryCommit("main", _WHO, _BEGIN, "Begin\n", dict(files))]
    last = 0
    for number in range(1, COMMITS):
        when = _BEGIN + timedelta(hours=7 * number)
        if number % _BRANCH == 1 and number > 1:
            # the commit before the last one stands on a side; this one merges it
            commits.append(StoryCommit("main", _WHO, when, f"Merge {number}\n", dict(files), (last, number - 1)))
            last = number
            continue
        side = number % _BRANCH == 0
        name = chance.choice(names)
        files[name] = changed(files[name].decode(), number, chance).encode()
        reason = f"Change {number}\n\nReason: what the bench of {number} wanted\n"
        branch = f"side-{number}" if side else "main"
        commits.append(StoryCommit(branch, _WHO, when, reason, dict(files), (last,)))
        if not side:
            last = number
    create(folder, commits, branch="main")


def one_recipe(folder: Path) -> None:
    """Write a repository in which every commit changes the recipe that is asked for."""
    chance = random.Random(7)
    workspaces.write(folder, RECIPES)
    files = {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*.toml"))}
    commits = [StoryCommit("main", _WHO, _BEGIN, "Begin\n", dict(files))]
    for number in range(1, COMMITS):
        files["recipe-7.toml"] = changed(files["recipe-7.toml"].decode(), number, chance).encode()
        when = _BEGIN + timedelta(hours=7 * number)
        commits.append(StoryCommit("main", _WHO, when, f"Change {number}\n", dict(files), (number - 1,)))
    create(folder, commits, branch="main")


def main() -> None:
    """Generate, measure and print: commits all over a workspace, and then all to one recipe, the worst there is."""
    print(f"{COMMITS:,} commits, a workspace of {RECIPES} recipes\n")
    measure(history, "4 times, 200 MB")
    print(f"\nThe same, but all {COMMITS:,} commits change the recipe that is asked for\n")
    measure(one_recipe, "200 MB")


def measure(write: Callable[[Path], None], wanted: str) -> None:
    """Measure one repository, and print its table."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        write(folder)
        shell = ["sh", "-c", GIT]
        subjects = {
            "git log --raw -z through cat-file --batch": shell,
            "log, one of 50 recipes": formula("log", "recipe-7"),
            "log --figure cost_per_kg --above 3": formula("log", "recipe-7", "--figure", "cost_per_kg", "--above", "3"),
            "log --format html": formula("log", "recipe-7", "--format", "html"),
            "blame, one of 50 recipes": formula("blame", "recipe-7"),
            "python, nothing": [sys.executable, "-c", "pass"],
        }
        times = medians({name: partial(timed, command, folder) for name, command in subjects.items()}, ROUNDS)
        base = next(iter(times.values()))
        print("| what | s | times git | MB | budget |\n|---|---|---|---|---|")
        for name, seconds in times.items():
            memory = peak(subjects[name], folder)
            budget = wanted if name.startswith(("log", "blame")) else ""
            print(f"| {name} | {seconds:.3f} | {seconds / base:.2f} | {memory:.0f} | {budget} |")


if __name__ == "__main__":
    main()
