"""Measure the page of a review: ``python tests/bench/page.py``.  Budget: 200 changed recipes below 5 MB."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.bench import run
from tests.bench.run import changed, formula, medians, timed

ROUNDS = 3


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        few, many = (changed(Path(scratch) / str(count), count) for count in (50, 200))
        found = medians(
            {
                "text": lambda: timed(formula("review"), many),
                "few": lambda: timed(formula("review", "--format", "html"), few),
                "many": lambda: timed(formula("review", "--format", "html"), many),
            },
            ROUNDS,
        )
        size = _size(many)
        print(f"| review --format html, 200 changed recipes | {found['many']:.2f} | "
              f"{found['many'] / found['text']:.2f} times text | |")  # fmt: skip
        print(f"| 200 against 50 recipes | | {found['many'] / found['few']:.2f} times | about 4 |")
        print(f"| size of the page of 200 recipes | | {size / 1e6:.2f} MB | 5 MB |")


def _size(folder: Path) -> int:
    done = subprocess.run(
        formula("review", "--format", "html"), cwd=folder, env=run._ENVIRONMENT, capture_output=True, check=False
    )
    return len(done.stdout)


if __name__ == "__main__":
    main()
