"""Measure the look-up of names: ``python tests/bench/names.py``.

Budgets: a look-up reads no table as a whole (0.2 ms cold, whatever the name), a check of one recipe takes at most 10 ms
more with names in other languages and with slips than with INCI names, one of 1,000 recipes at most 1.3 times.
"""

from __future__ import annotations

import gzip
import re
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from formula_vcs.law.compile_names import TABLES, kept_inventory, synonyms
from formula_vcs.law.identity import identify
from tests.bench import workspaces
from tests.bench.run import ROUNDS, formula, git, medians, timed

SLIP = {"e": "a", "a": "e", "i": "y"}


def _slipped(name: str) -> str:
    """Put one slip of the pen into the longest word of a name."""
    word = max(re.findall(r"[A-Za-z]+", name), key=len).ljust(3, "e")
    wrong = word[:-3] + SLIP.get(word[-3], "e") + word[-2:]
    return name.replace(word, wrong, 1)


def _each(names: Iterable[str]) -> float:
    """Give the mean time of a look-up that nothing is kept of, in microseconds."""
    asked = list(names)
    start = time.perf_counter()
    for name in asked:
        identify.__wrapped__(name, "")
    return (time.perf_counter() - start) / len(asked) * 1e6


def _renamed(root: Path) -> Path:
    for file in (root / "ingredients").glob("*.toml"):
        text = file.read_text(encoding="utf-8")
        text = re.sub(r'"([^"]+ Leaf Extract)"', lambda found: f'"{_slipped(found[1])}"', text)
        file.write_text(text, encoding="utf-8")
    return root


def main() -> None:
    """Measure and print."""
    known = [entry.inci for entry in kept_inventory()][::15]
    others = [name for name, *_ in synonyms()]
    identify(known[0])  # opens the tables
    print(f"| a look-up: INCI name | {_each(known):.0f} us | | 200 us |")
    print(f"| a look-up: another name | {_each(others):.0f} us | | 200 us |")
    print(f"| a look-up: a name with a slip | {_each(map(_slipped, known[::5])):.0f} us | | 10,000 us |")
    packed = sum(len(gzip.compress(file.read_bytes(), 9)) for file in TABLES.iterdir())
    print(f"| tables in the wheel | {packed / 1e6:.2f} MB | | 1.5 MB |")
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        right, wrong = workspaces.write(root / "right", 1000), _renamed(workspaces.write(root / "wrong", 1000))
        one, slip = workspaces.small(root / "one"), _renamed(workspaces.small(root / "slip"))
        for folder in (one, slip):
            git(folder, "init", "-q")
        many = medians(
            {"right": lambda: timed(formula("check"), right), "wrong": lambda: timed(formula("check"), wrong)}, 3
        )
        few = medians(
            {"right": lambda: timed(formula("check"), one), "wrong": lambda: timed(formula("check"), slip)}, ROUNDS
        )
        times, more = many["wrong"] / many["right"], (few["wrong"] - few["right"]) * 1000
        print(
            f"| check, 1,000 recipes, a slip in each of 199 names | {many['wrong']:.2f} s | {times:.2f} times | 1.3 |"
        )
        print(f"| check, one recipe, a slip in each name | {few['wrong']:.3f} s | {more:+.0f} ms | 10 ms |")


if __name__ == "__main__":
    main()
