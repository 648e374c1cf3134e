"""The walk and its rules against the rest of the check, per recipe: at most as much again.

``python tests/bench/process.py`` prints the table: the check of the demo without and with the rules about the process.
The budget is twice.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import datetime
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from formula_vcs.rules.judge import judge
from formula_vcs.rules.registry import OF_PROCESS, OF_RECIPES
from formula_vcs.rules.rule import Rule
from formula_vcs.workspace.snapshot import Snapshot, WorkTree

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
DAY = datetime.date(2026, 6, 1)
# what stood before the walk learnt numbers, order and warmth
_BEFORE = frozenset({"step-charges", "step-vessel", "shear-at-most", "shear-at-least"})
_PROCESS = frozenset(
    {rule.id for rule in OF_PROCESS} | {"equipment-data", "step-values", "preservative-window", "free-acid"}
)
ROUNDS = 15


def _seconds(rules: tuple[Rule, ...]) -> float:
    """Give the seconds for a recipe of reading and judging the demo, the best of some rounds."""
    best = float("inf")
    for _ in range(ROUNDS):
        snapshot = Snapshot(WorkTree(RECIPES))
        for name in snapshot.ids("ingredients"):
            snapshot.ingredient(name)
        started, count = time.perf_counter(), 0
        for recipe in snapshot.recipes():
            judge(snapshot.formula(recipe), DAY, rules=rules)
            count += 1
        best = min(best, (time.perf_counter() - started) / count)
    return best


def main() -> None:
    """Measure and print."""
    without = _seconds(tuple(rule for rule in OF_RECIPES if rule.id not in _PROCESS - _BEFORE))
    whole = _seconds(OF_RECIPES)
    print(
        f"| check of a demo recipe, without and with the rules of the process | {without * 1e6:.0f} and "
        f"{whole * 1e6:.0f} microseconds | {whole / without:.2f} times | 2 |"
    )


if __name__ == "__main__":
    main()
