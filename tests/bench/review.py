"""Measure the review: ``python tests/bench/review.py`` prints a table; ratios are of one run, so trust those.

One recipe with ten changes and ten new findings against the diff of the same; then 25 to 200 changed recipes, to see
that the time grows as their number does.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.bench import workspaces
from tests.bench.run import _ENVIRONMENT, changed, formula, git, medians, timed

ROUNDS = 3
SIZES = (25, 50, 100, 200)


def ten(root: Path) -> Path:
    """Commit one recipe, and change ten things in it that bring ten findings."""
    workspaces.write(root, 1)
    file = root / "recipe-0.toml"
    text = file.read_text(encoding="utf-8")
    git(root, "init", "-q")
    git(root, "add", "-A")
    git(root, "commit", "-q", "-m", "Begin")
    charges = [line for line in text.splitlines() if line.startswith("material-")][:8]
    for number, line in enumerate(charges):
        name, _, amount = line.partition(" = ")
        text = text.replace(line, f"{name} = {{ pct = {amount}, at_least = {float(amount) + 10 + number:.2f} }}")
    text = text.replace('temp = "70 to 75 degC"', 'temp = "95 to 75 degC"').replace('add = ["B"]', 'add = ["Z"]')
    file.write_text(text, encoding="utf-8")
    return root


def findings(root: Path) -> tuple[int, int]:
    """Count the changes and the new findings of the one recipe."""
    out = subprocess.run(
        formula("review", "--format", "json"), cwd=root, env=_ENVIRONMENT, capture_output=True, check=False
    )
    found = json.loads(out.stdout)["recipes"][0]
    return len(found["changes"]), len(found["findings"]["new"])


def measured(folder: Path, *words: str) -> Callable[[], float]:
    """Give what runs a command there and gives its seconds."""
    return lambda: timed(formula(*words), folder)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        one = ten(root / "one")
        subjects = {"diff": measured(one, "diff"), "review": measured(one, "review")}
        for count in SIZES:
            subjects[f"review of {count}"] = measured(changed(root / str(count), count), "review")
        seconds = medians(subjects, ROUNDS)
        changes, new = findings(one)
        print(f"one recipe, {changes} changes, {new} new findings\n")
        print("| what | s | ratio | budget |\n|---|---|---|---|")
        print(f"| diff of it | {seconds['diff']:.3f} | 1 | |")
        ratio = seconds["review"] / seconds["diff"]
        print(f"| review of it | {seconds['review']:.3f} | {ratio:.2f} times the diff | 3 |")
        for count in SIZES:
            took = seconds[f"review of {count}"]
            each = took / count * 1000
            print(f"| review of {count} changed recipes | {took:.2f} | {each:.1f} ms each | linear |")


if __name__ == "__main__":
    main()
