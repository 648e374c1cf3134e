"""What each command may take beside a plainer one: ``python tests/bench/ratios.py`` prints the table.

Processor seconds of a whole process and all that it starts, so that what else runs here counts for little; the runs of
all subjects are interleaved, and the least of each is taken.  Nothing here fails: a time is no test.

A hundred recipes with two changed amounts each: their check, their diff, their review, its page.  One recipe of the
demo: its check, and the merge of two versions of it as git runs the driver.  2,000 commits: ``log`` and ``blame``
against ``git log --raw -z`` piped through ``git cat-file --batch``, first all over a workspace, then all to the recipe
that is asked for.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

# An installed package has its bytecode; without it the compiler would be measured.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
os.environ["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "formula-bench-bytecode")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.bench import history, merge
from tests.bench.run import changed, formula, worked

ROUNDS = int(os.environ.get("BENCH_ROUNDS", "5"))
# what is asked, what it is held against, how many times that it may take
_OF_MANY = (("diff", "check", 1.5), ("review", "diff", 1.5), ("review --format html", "review", 1.5))


def least(subjects: Mapping[str, Callable[[], float]]) -> dict[str, float]:
    """Run all subjects in turn, once for nothing and then some rounds; give the least that each took."""
    for subject in subjects.values():
        subject()
    rounds = [{name: subject() for name, subject in subjects.items()} for _ in range(ROUNDS)]
    return {name: min(one[name] for one in rounds) for name in subjects}


def _row(what: str, seconds: float, other: float, than: str, budget: float) -> None:
    print(f"| {what} | {seconds:.3f} | {seconds / other:.2f} times {than} | {budget:g} |", flush=True)


def of_many(root: Path, count: int) -> None:
    """Hold diff, review and page of many changed recipes against each other."""
    folder = changed(root, count)
    asked = ("check", *(words for words, _, _ in _OF_MANY))
    found = least({words: lambda words=words: worked(formula(*words.split()), folder) for words in asked})  # type: ignore[misc]
    for words, than, budget in _OF_MANY:
        _row(f"{words}, {count} changed recipes", found[words], found[than], f"its {than} ({found[than]:.3f})", budget)


def of_a_merge() -> None:
    """Hold the merge driver, as git runs it, against the check of the file."""
    with merge.staged() as (folder, driven, checked):
        found = least({"merge": lambda: worked(driven, folder), "check": lambda: worked(checked, folder)})
        _row("merge driver", found["merge"], found["check"], f"a check of the file ({found['check']:.3f})", 1.2)


def of_history(root: Path, write: Callable[[Path], None], where: str, budget: float) -> None:
    """Hold ``log`` and ``blame`` over many commits against what git itself takes."""
    write(root)
    commands = {"git": ["sh", "-c", history.GIT], **{word: formula(word, "recipe-7") for word in ("log", "blame")}}
    found = least({name: lambda words=words: worked(words, root) for name, words in commands.items()})  # type: ignore[misc]
    for word in ("log", "blame"):
        what = f"{word}, {history.COMMITS:,} commits {where}"
        _row(what, found[word], found["git"], f"git ({found['git']:.3f})", budget)


def main() -> None:
    """Measure and print."""
    print("| what | s | measured | budget |\n|---|---|---|---|")
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        of_many(root / "hundred", 100)
        of_a_merge()
        of_history(root / "all", history.history, "all over a workspace", 2)
        of_history(root / "one", history.one_recipe, "all to the recipe asked for", 3)


if __name__ == "__main__":
    main()
