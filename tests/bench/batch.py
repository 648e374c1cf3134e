"""A weigh sheet against ``check``, both as commands: at most 1.5 times, in every repetition.

``python tests/bench/batch.py`` prints the table.  Each repetition runs both, one after the other, and compares the CPU
time of each with all that it starts; the table has the middle and the worst.  Once in the demo, once in a workspace of
the one recipe with its premixes, where ``check`` has least to do.  The sheet is a dry run of ``batch``, so that every
round finds the same files.  Nothing here fails: a time is no test.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 9
_RUN = "import sys; sys.path.insert(0, sys.argv[1]); from formula_vcs.cli import main; sys.exit(main(sys.argv[2:]))"
_OTHERS = ("face-polish", "face-toner", "gum-gel", "lip-balm", "shower-wash")


def _seconds(folder: Path, *words: str) -> float:
    """Give the CPU seconds that a command takes, with the processes that it starts."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, "-c", _RUN, str(ROOT), *words], cwd=folder, capture_output=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise SystemExit(done.stdout.decode() + done.stderr.decode())
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _alone(demo: Path, folder: Path) -> None:
    """Make a workspace of hand cream alone, without records."""
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns(".git", "batches", "evidence", "lots"))
    for name in _OTHERS:
        (folder / f"{name}.toml").unlink()
    for words in (("init", "--quiet"), ("add", "--all"), ("commit", "--quiet", "--no-verify", "--message=alone")):
        identity = ("-c", "user.name=Bench", "-c", "user.email=bench@example.org")
        subprocess.run(["git", *identity, *words], cwd=folder, check=True)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        demo, alone = Path(name) / "demo", Path(name) / "alone"
        subprocess.run([sys.executable, "-c", _RUN, str(ROOT), "demo", str(demo)], capture_output=True, check=True)
        _alone(demo, alone)
        sheet = ("batch", "hand-cream", "--size", "25 kg", "--dry-run", "--rev", "HEAD")
        for folder in (demo, alone):
            for form in ("text", "html", "json"):
                ratios = []
                for _ in range(ROUNDS):
                    check = _seconds(folder, "check", "--fail-on", "never")
                    ratios.append(_seconds(folder, *sheet, "--format", form) / check)
                print(
                    f"| weigh sheet as {form}, {folder.name} | {median(ratios):.2f} times | {max(ratios):.2f} | 1.5 |"
                )


if __name__ == "__main__":
    main()
