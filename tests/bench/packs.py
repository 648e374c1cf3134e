"""Measure the packs: ``python tests/bench/packs.py``.  Budgets: twice the check without packs, 40 ms on a cold one."""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.bench import workspaces
from tests.bench.run import ROUNDS, formula, git, medians, timed

# Substances that many rows of the packs speak of.
REGULATED = (
    "Sodium Benzoate", "Potassium Sorbate", "Phenoxyethanol", "Benzyl Alcohol", "Lavandula Angustifolia Oil",
    "Linalool", "Limonene", "Citral", "Salicylic Acid", "Retinol", "Zinc Chloride", "Methylparaben",
)  # fmt: skip


def _regulated(root: Path) -> Path:
    for number, name in enumerate(REGULATED):
        file = root / "ingredients" / f"material-{number * 5 + 1}.toml"
        text = re.sub(r'"[^"]+ Leaf Extract"', f'"{name}"', file.read_text(encoding="utf-8"))
        file.write_text(text, encoding="utf-8")
    return root


def _without_market(root: Path) -> Path:
    for file in root.glob("*.toml"):
        file.write_text(file.read_text(encoding="utf-8").replace('markets = ["EU"]\n', ""), encoding="utf-8")
    return root


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        packs = _regulated(workspaces.write(root / "packs", 1000))
        none = _without_market(_regulated(workspaces.write(root / "none", 1000)))
        small, bare = workspaces.small(root / "small"), _without_market(workspaces.small(root / "bare"))
        for folder in (small, bare):
            git(folder, "init", "-q")
        many = medians(
            {"packs": lambda: timed(formula("check"), packs), "none": lambda: timed(formula("check"), none)}, 3
        )
        one = medians(
            {"packs": lambda: timed(formula("check"), small), "none": lambda: timed(formula("check"), bare)}, ROUNDS
        )
        print(f"| check, 1,000 recipes, all packs of a market | {many['packs']:.2f} | "
              f"{many['packs'] / many['none']:.2f} times check without packs | 2 |")  # fmt: skip
        times, more = many["packs"] / many["none"], (one["packs"] - one["none"]) * 1000
        print(
            f"| check, 1,000 recipes, packs of a market | {many['packs']:.2f} | {times:.2f} times without packs | 2 |"
        )
        print(f"| check, one recipe, packs loaded | {one['packs']:.3f} | {more:+.0f} ms | 40 ms |")


if __name__ == "__main__":
    main()
