"""Two people edit one recipe: git's text merge against ours, over generated pairs of concurrent edits.

``python tests/bench/merge.py [PAIRS]`` prints the table of DEVELOPERS.md: conflicts, silent breakages (a clean merge
that blocks where neither side did, or does not parse), lost edits (a clean merge without a change that a side made),
and the time of the driver as git runs it against a check of one recipe, both as whole processes.
"""

from __future__ import annotations

import datetime
import random
import re
import shlex
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from formula_vcs.diff.diff import diff
from formula_vcs.git.would_merge import merge_text
from formula_vcs.merge.driven import Workbench, merge
from formula_vcs.model.finding import Finding
from formula_vcs.rules.judge import judge
from formula_vcs.setup import driver
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Snapshot, WorkTree

ROOT = Path(__file__).resolve().parents[2]
RECIPES = ROOT / "recipes"
DAY = datetime.date(2026, 6, 1)
PAIRS = 1000
ROUNDS = 11

Edit = Callable[[str, random.Random], str]

_CHARGE = re.compile(r"(?m)^(?P<name>[a-z0-9-]+)(?P<gap> *)= (?P<amount>\d+\.\d+)(?P<rest>[^\n]*)\n")
_STEP = re.compile(r"(?m)^\[\[step\]\]\n(?:[^\[\n].*\n|\n)*")
_TIME = re.compile(r'(?m)^(time +?= )"(\d+) min"')
_SPEED = re.compile(r'(?m)^(speed +?= )"(\d+) rpm"')


def _charges(text: str) -> list[re.Match[str]]:
    return [found for found in _CHARGE.finditer(text) if "[phase." in text[: found.start()]]


def amount(text: str, chance: random.Random) -> str:
    """Change an amount by some hundredths; the balance gives way."""
    found = chance.choice(_charges(text))
    value = float(found["amount"])
    new = f"{max(0.01, value * chance.choice([0.8, 0.9, 1.1, 1.2, 1.3])):.2f}"
    return text[: found.start("amount")] + new + text[found.end("amount") :]


def move(text: str, chance: random.Random) -> str:
    """Take a charge to another phase."""
    found = chance.choice(_charges(text))
    left = text[: found.start()] + text[found.end() :]
    spots = [spot.end() for spot in re.finditer(r"(?m)^\[phase\.[A-Z]\.charge\]\n", left)]
    spot = chance.choice(spots)
    return left[:spot] + found[0] + left[spot:]


def remove(text: str, chance: random.Random) -> str:
    """Take a charge out."""
    found = chance.choice(_charges(text))
    return text[: found.start()] + text[found.end() :]


def add(text: str, chance: random.Random) -> str:
    """Add a charge of the workspace behind another."""
    found = chance.choice(_charges(text))
    names = [file.stem for file in sorted((RECIPES / "ingredients").glob("*.toml")) if f"\n{file.stem} " not in text]
    return text[: found.end()] + f"{chance.choice(names)} = 0.{chance.randrange(10, 60)}\n" + text[found.end() :]


def step_time(text: str, chance: random.Random) -> str:
    """Change how long a step takes."""
    return _changed(text, chance, _TIME, "min")


def step_speed(text: str, chance: random.Random) -> str:
    """Change how fast a step turns."""
    return _changed(text, chance, _SPEED, "rpm")


def _changed(text: str, chance: random.Random, pattern: re.Pattern[str], unit: str) -> str:
    found = list(pattern.finditer(text))
    if not found:
        return text
    one = chance.choice(found)
    new = max(1, round(int(one[2]) * chance.choice([0.8, 0.9, 1.1, 1.25])) + chance.choice([0, 1]))
    return text[: one.start()] + f'{one[1]}"{new} {unit}"' + text[one.end() :]


def step_moved(text: str, chance: random.Random) -> str:
    """Put a step before its neighbour."""
    steps = list(_STEP.finditer(text))
    if len(steps) < 2:
        return text
    at = chance.randrange(len(steps) - 1)
    one, two = steps[at], steps[at + 1]
    return text[: one.start()] + _ended(two[0]) + _ended(one[0]) + text[two.end() :]


def step_added(text: str, chance: random.Random) -> str:
    """Put one more stirring between two steps."""
    steps = list(_STEP.finditer(text))
    if not steps:
        return text
    at = chance.choice(steps).start()
    name = f"stir-{chance.randrange(100)}"
    return f'{text[:at]}[[step]]\nid    = "{name}"\ninto  = "main"\nshear = "low"\ntime  = "2 min"\n\n{text[at:]}'


def _ended(block: str) -> str:
    return block.rstrip("\n") + "\n\n"


def claim(text: str, chance: random.Random) -> str:
    """Add a market to the list."""
    market = chance.choice(["UK", "CA", "JP", "CH"])
    return re.sub(r'(?m)^(markets +?= \[[^\]\n]*)"\]', rf'\1", "{market}"]', text, count=1)


def spec(text: str, chance: random.Random) -> str:
    """Widen the viscosity."""
    return re.sub(
        r'(?m)^(viscosity +?= ")(\d+) to', lambda m: f"{m[1]}{max(1, int(m[2]) - chance.randrange(1, 4))} to", text
    )


def comment(text: str, chance: random.Random) -> str:
    """Say something about a charge."""
    found = chance.choice(_charges(text))
    if "#" in found[0]:
        return text
    said = chance.choice(["see trial 12", "sticky", "new drum"])
    return f"{text[: found.end() - 1]}  # {said}{text[found.end() - 1 :]}"


def layout(text: str, chance: random.Random) -> str:
    """Align the amounts of a phase anew, as an editor does."""
    del chance
    return re.sub(r"(?m)^([a-z0-9-]+) +?= ", r"\1 = ", text)


EDITS: tuple[tuple[Edit, int], ...] = (
    (amount, 10), (move, 3), (remove, 1), (add, 3), (step_time, 4), (step_speed, 3), (step_moved, 1), (step_added, 2),
    (claim, 1), (spec, 1), (comment, 2), (layout, 1),
)  # fmt: skip


def edited(text: str, chance: random.Random, legal: Callable[[str], bool]) -> str:
    """Make one to three edits that leave a recipe that nothing blocks."""
    wanted = chance.choice([1, 1, 2, 3])
    edits, weights = zip(*EDITS, strict=True)
    done = 0
    while done < wanted:
        trial = chance.choices(edits, weights)[0](text, chance)
        if trial != text and legal(trial):
            text, done = trial, done + 1
    return text


class Bench:
    """One recipe of the demo, judged in memory."""

    def __init__(self, path: str) -> None:
        self.bench = Workbench(WorkTree(RECIPES), path, DAY)
        self.name = path.removesuffix(".toml")
        self.text = (RECIPES / path).read_text("utf-8")

    def findings(self, text: str) -> list[Finding] | None:
        """Judge a text; None where it does not parse."""
        snapshot = self.bench.at(text.encode())
        recipe = snapshot.recipe(self.name)
        return None if recipe is None else judge(snapshot.formula(recipe), DAY)

    def legal(self, text: str) -> bool:
        """Say whether nothing blocks."""
        found = self.findings(text)
        return found is not None and not any(finding.severity == "block" for finding in found)

    def changes(self, old: str, new: str) -> set[tuple[str, str | None]]:
        """Give the changes of meaning; which of two steps moved is a matter of counting, so a move is left out."""
        formulas = []
        for text in (old, new):
            snapshot: Snapshot = self.bench.at(text.encode())
            recipe = snapshot.recipe(self.name)
            assert recipe is not None
            formulas.append(snapshot.formula(recipe))
        found = diff(*formulas)
        return {(item.id, item.new) for item in found if not item.derived and item.kind != "step-moved"}


def judged(count: Counter[str], who: str, bench: Bench, versions: tuple[str, str, str], merged: str) -> None:
    """Count what a clean merge broke or lost."""
    if not bench.legal(merged):
        count[f"{who}: silent breakages"] += 1
        if parse(merged.encode()).errors:
            return
    ours, base, theirs = versions
    after = bench.changes(base, merged)
    lost = [change for side in (ours, theirs) for change in bench.changes(base, side) if change not in after]
    if lost:
        count[f"{who}: lost edits"] += 1


def compared(pairs: int) -> Counter[str]:
    """Merge generated pairs both ways and count."""
    benches = [Bench(path) for path in ("hand-cream.toml", "shower-wash.toml", "gum-gel.toml")]
    chance = random.Random(2026)
    count: Counter[str] = Counter()
    for number in range(pairs):
        bench = benches[number % len(benches)]
        base = bench.text
        ours, theirs = (edited(base, chance, bench.legal) for _ in range(2))
        text = merge_text(ours.encode(), base.encode(), theirs.encode())
        if not text.clean:
            count["text: conflicts"] += 1
        elif text.data is not None:
            judged(count, "text", bench, (ours, base, theirs), text.data.decode())
        found = merge(bench.bench, (ours.encode(), base.encode(), theirs.encode()))
        if found is None:
            count["ours: not merged in meaning"] += 1
        elif found.clean:
            judged(count, "ours", bench, (ours, base, theirs), found.data.decode())
        elif found.words[0].startswith("merge stopped"):
            count["ours: stopped"] += 1
        else:
            count["ours: conflicts"] += 1
    return count


@contextmanager
def staged() -> Iterator[tuple[Path, list[str], list[str]]]:
    """Lay the demo out with three versions of a recipe; give the folder, the driver's command and that of a check."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "w"
        subprocess.run(["cp", "-r", str(RECIPES), str(folder)], check=True)
        program = Path(name) / "git-formula"
        words = f"PYTHONPATH={shlex.quote(str(ROOT))} exec {shlex.quote(sys.executable)}"
        program.write_text(f'#!/bin/sh\n{words} -m formula_vcs "$@"\n')
        program.chmod(0o755)
        base = (RECIPES / "hand-cream.toml").read_text()
        texts = {
            ".base": base,
            ".theirs": base.replace("sunflower-oil-organic = 4.00", "sunflower-oil-organic = 5.00"),
            ".ours": base.replace("shea-butter           = 4.00", "shea-butter           = 4.50"),
        }
        for key, text in texts.items():
            assert key == ".base" or text != base
            (folder / key).write_text(text)
        command = driver.command(str(program), "merge-driver.sh")
        command = command.replace("program=git-formula;", f"program={shlex.quote(str(program))};", 1)
        for sign, word in (("%O", ".base"), ("%A", ".ours"), ("%B", ".theirs"), ("%L", "7"), ("%P", "hand-cream.toml")):
            command = command.replace(sign, word)
        # each merge begins with the same version of ours
        (folder / ".before").write_text(texts[".ours"])
        yield folder, ["sh", "-c", f"cp .before .ours; {command}"], [str(program), "check", "hand-cream.toml"]


def timed() -> tuple[float, float]:
    """Time the driver as git runs it, and a check of one recipe, in turn; medians of whole processes."""
    times: tuple[list[float], list[float]] = ([], [])
    with staged() as (folder, *runs):
        for _ in range(ROUNDS):
            for run, found in zip(runs, times, strict=True):
                start = time.perf_counter()
                subprocess.run(run, cwd=folder, check=True, stdout=subprocess.DEVNULL)
                found.append(time.perf_counter() - start)
    return statistics.median(times[0]), statistics.median(times[1])


def main() -> None:
    """Print the table."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else PAIRS
    count = compared(pairs)
    print(f"| {pairs} pairs of concurrent edits | git's text merge | ours |\n|---|---|---|")
    for what in ("conflicts", "stopped", "silent breakages", "lost edits", "not merged in meaning"):
        print(f"| {what} | {count[f'text: {what}']} | {count[f'ours: {what}']} |")
    merged, checked = timed()
    print(f"\ndriver {merged:.3f} s, check of one recipe {checked:.3f} s: {merged / checked:.2f} times")


if __name__ == "__main__":
    main()
