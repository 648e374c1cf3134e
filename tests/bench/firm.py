"""Measure a firm's archive: ``python -m tests.bench.firm [RECIPES INGREDIENTS BATCHES PROOFS]``.

Without numbers it is 2,000 recipes, 2,000 ingredients, 10,000 closed batches and 500 proofs, which takes minutes.
Processor time of each command and its children, as times bare Python in the same run.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.bench.growth import cost, mean
from tests.bench.workspaces import archive, git

_CHECK = ("-m", "formula_vcs", "check")
_HOOK = (*_CHECK, "--staged", "--hook")


def main(sizes: list[int]) -> None:
    """Measure and print a row."""
    with tempfile.TemporaryDirectory() as place:
        folder = archive(Path(place), *(sizes or [2000, 2000, 10_000, 500]))
        bare = mean(folder, "-c", "pass")
        first, second = (cost(folder, *_CHECK) / bare for _ in range(2))
        cost(folder, *_HOOK)
        untouched = mean(folder, *_HOOK) / bare
        file = folder / "recipe-0.toml"
        changed = []
        for number in range(3):
            file.write_text(file.read_text("utf-8") + f"# {number}\n", encoding="utf-8")
            git(folder, "add", "--all")
            changed.append(cost(folder, *_HOOK) / bare)
        print("| first check | second check | hook, one recipe changed | hook, nothing of ours |\n|---|---|---|---|")
        print(f"| {first:.1f} | {second:.1f} | {min(changed):.1f} | {untouched:.1f} |")


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]])
