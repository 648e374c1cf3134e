"""A weigh sheet against ``check``, both as commands in the demo repository: at most 1.5 times.

``python tests/bench/batch.py`` prints the table.  The sheet is a dry run of ``batch``, so that every round finds the
same files; writing them takes the disk's time.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 9
_RUN = "import sys; sys.path.insert(0, sys.argv[1]); from formula_vcs.cli import main; sys.exit(main(sys.argv[2:]))"


def _seconds(folder: Path, *words: str) -> float:
    """Give the seconds that a command takes, the best of some rounds."""
    best = float("inf")
    for _ in range(ROUNDS):
        started = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", _RUN, str(ROOT), *words], cwd=folder, capture_output=True, check=False
        )
        best = min(best, time.perf_counter() - started)
        if done.returncode:
            raise SystemExit(done.stdout.decode() + done.stderr.decode())
    return best


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "demo"
        subprocess.run([sys.executable, "-c", _RUN, str(ROOT), "demo", str(folder)], capture_output=True, check=True)
        check = _seconds(folder, "check", "--fail-on", "never")
        sheet = ("batch", "hand-cream", "--size", "25 kg", "--dry-run", "--rev", "HEAD")
        for form in ("text", "html", "json"):
            found = _seconds(folder, *sheet, "--format", form)
            print(
                f"| weigh sheet as {form} | {found:.3f} s | {found / check:.2f} times `check` ({check:.3f} s) | 1.5 |"
            )


if __name__ == "__main__":
    main()
