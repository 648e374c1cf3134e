"""``trace`` over 2,000 commits and 500 batches against ``log``: ``python tests/bench/trace.py`` prints the table.

The history is that of `history.py`.  The batches are of all its recipes, each from a commit of its own, with their
weighings, steps, results and lots; the one recipe that is looked at has a fifth of them.  Runs are interleaved, medians
are taken, and the ratio is of one run.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from functools import partial
from pathlib import Path

# An installed package has its bytecode; without it the compiler would be measured.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
os.environ["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "formula-bench-bytecode")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.git import repository
from tests.bench import history
from tests.bench.run import formula, medians, peak, timed

BATCHES = 500
RECIPE = "recipe-7"
ROUNDS = int(os.environ.get("BENCH_ROUNDS", "5"))
_BEGIN = date(2020, 2, 1)


def records(folder: Path) -> list[str]:
    """Write batches and lots; give the ids of those of the one recipe, oldest first."""
    chance = random.Random(11)
    commits = subprocess.run(
        ["git", "rev-list", "--reverse", "main"], cwd=folder, check=True, capture_output=True, text=True
    ).stdout.split()
    for kind in ("batches", "lots"):
        (folder / kind).mkdir()
    looked_at: list[str] = []
    lots: set[str] = set()
    with PinnedVersions(repository.open_repo(folder), "") as pins:
        for number in range(BATCHES):
            recipe = RECIPE if number % 5 == 0 else f"recipe-{chance.randrange(history.RECIPES)}"
            commit = commits[len(commits) * (number + 1) // (BATCHES + 1)]
            pinned = pins.at(commit, recipe)
            if pinned.formula is None:
                continue
            text = _batch(Breakdown(pinned.formula), recipe, commit, pinned.hash, number, chance, lots)
            (folder / "batches" / f"b-{number:03d}.toml").write_text(text, encoding="utf-8")
            looked_at += [f"b-{number:03d}"] if recipe == RECIPE else []
    for lot in lots:
        ingredient, _, number_ = lot.rpartition("-")
        certificate = f'[certificate]\nassay = "{chance.uniform(95, 99):.1f} %"\n'
        text = f'ingredient = "{ingredient}"\nlot = "{number_}"\nstatus = "released"\n\n{certificate}'
        (folder / "lots" / f"{lot}.toml").write_text(text, encoding="utf-8")
    return looked_at


def _batch(  # noqa: PLR0917 - what a batch is written of
    sums: Breakdown, recipe: str, commit: str, content: str, number: int, chance: random.Random, lots: set[str]
) -> str:
    day = _BEGIN + timedelta(days=2 * number)
    lines = [
        f'recipe = "{recipe}"', f'commit = "{commit}"', f'hash = "{content}"', 'size = "100 kg"', f"date = {day}",
        'made_by = "Bench"', 'made = "98.5 kg"', "packs = 1300", f"closed = {day + timedelta(days=1)}",
    ]  # fmt: skip
    phases: dict[str, list[str]] = {}
    for line in sums.composition.lines:
        kg = float(line.pct)
        lot = f"{line.charge.ingredient}-{number // 100}"
        lots.add(lot)
        weighed = f'weighed = "{kg * chance.gauss(1, 0.001):.4f} kg", lot = "{lot}"'
        charge = f'{line.charge.ingredient} = {{ target = "{kg:.4f} kg", {weighed} }}'
        phases.setdefault(line.charge.phase, []).append(charge)
    for phase, charges in phases.items():
        lines += ["", f"[phase.{phase}.charge]", *charges]
    for step in sums.formula.recipe.steps:
        values = [f'{name} = "{span}"' for name in ("speed", "time", "temp") if (span := step.span(name)) is not None]
        lines += ["", "[[step]]", f'id = "{step.id}"', *values]
    lines += ["", "[result]", f'pH = "{chance.gauss(5, 0.1):.1f}"', f'viscosity = "{chance.gauss(23, 1):.1f} Pa*s"']
    return "\n".join(lines) + "\n"


def main() -> None:
    """Generate, measure and print."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        history.history(folder)
        ids = records(folder)
        near, far, last = ids[-2], ids[len(ids) // 2], ids[-1]
        subjects = {
            f"log {RECIPE}": formula("log", RECIPE),
            "trace of two batches in a row": formula("trace", near, last),
            "trace over half of the history": formula("trace", far, last),
            "the same as html, with charts": formula("trace", far, last, "--format", "html"),
            "trace --against-recipe": formula("trace", last, "--against-recipe"),
            "trace --against, last 20": formula("trace", last, "--against", RECIPE, "--last", "20"),
            "uses --lot": formula("uses", "--lot", "water-4"),
        }
        started = time.perf_counter()
        times = medians({name: partial(timed, command, folder) for name, command in subjects.items()}, ROUNDS)
        base = next(iter(times.values()))
        print(f"2,000 commits, {BATCHES} batches, {time.perf_counter() - started:.0f} s of measuring\n")
        print("| what | s | times log | MB | budget |\n|---|---|---|---|---|")
        for name, seconds in times.items():
            budget = "3 times" if name.startswith("trace") else ""
            print(f"| {name} | {seconds:.3f} | {seconds / base:.2f} | {peak(subjects[name], folder):.0f} | {budget} |")


if __name__ == "__main__":
    main()
