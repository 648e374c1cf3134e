"""How a hook grows with the archive: as it was (nothing remembered), one recipe changed, and nothing of ours staged.

Run it as ``python -m tests.bench.growth``; processor time of the process and its children, as ratios to
bare Python in the same run.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Final

from formula_vcs.model.content_hash import content_hash
from formula_vcs.workspace.snapshot import Snapshot, WorkTree
from tests.bench.workspaces import write

_GIT: Final = ("git", "-c", "user.name=Una", "-c", "user.email=una@example.org", "-c", "commit.gpgSign=false")
_TIMES: Final = 3
_SHORT: Final = 15
_HOOK: Final = ("-m", "formula_vcs", "check", "--staged", "--hook")


def git(folder: Path, *words: str) -> str:
    """Run git in a folder."""
    done = subprocess.run([*_GIT, *words], cwd=folder, check=True, capture_output=True, text=True)
    return done.stdout.strip()


def cost(folder: Path, *words: str) -> float:
    """Give the processor time of a Python process and its children, in seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    # what is installed is compiled once, whatever the measuring shell says
    environment = {name: value for name, value in os.environ.items() if name != "CI" and not name.startswith("PYTHON")}
    subprocess.run([sys.executable, *words], cwd=folder, env=environment, check=False, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def mean(folder: Path, *words: str) -> float:
    """Give the mean of many short runs: the clock of the processor is coarse."""
    return sum(cost(folder, *words) for _ in range(_SHORT)) / _SHORT


def workspace(folder: Path, recipes: int, batches: int) -> None:
    """Write and commit recipes, and batches of the first of them."""
    write(folder, recipes)
    git(folder, "init", "--quiet", "--initial-branch=main")
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--message=recipes")
    commit = git(folder, "rev-parse", "HEAD")
    with Snapshot(WorkTree(folder)) as files:
        recipe = next(files.recipes())
        made = content_hash(recipe, files.formula(recipe).premixes)
    (folder / "batches").mkdir(exist_ok=True)
    for number in range(batches):
        (folder / "batches" / f"b-{number:05}.toml").write_text(
            f'recipe = "{recipe.id}"\ncommit = "{commit}"\nhash = "{made}"\nsize = "10 kg"\ndate = 2026-03-04\n'
            'made_by = "Una"\n',
            encoding="utf-8",
        )
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--allow-empty", "--message=batches")


def row(recipes: int, batches: int) -> str:
    """Measure one size."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        workspace(folder, recipes, batches)
        bare = mean(folder, "-c", "pass")
        whole = cost(folder, *_HOOK, "--no-cache") / bare
        first = cost(folder, *_HOOK) / bare
        cost(folder, *_HOOK)
        untouched = mean(folder, *_HOOK) / bare
        changed = []
        file = next(path for path in sorted(folder.glob("*.toml")) if path.name != "workspace.toml")
        for number in range(_TIMES):
            file.write_text(file.read_text("utf-8") + f"# {number}\n", encoding="utf-8")
            git(folder, "add", "--all")
            changed.append(cost(folder, *_HOOK) / bare)
        return f"| {recipes} | {batches} | {whole:.1f} | {first:.1f} | {min(changed):.1f} | {untouched:.1f} |"


def main() -> None:
    """Measure sizes, and print a table."""
    print("| recipes | batches | nothing remembered | first | one recipe changed | nothing of ours staged |")
    print("|---|---|---|---|---|---|")
    for recipes, batches in ((10, 0), (10, 100), (10, 400), (100, 0), (1000, 0)):
        print(row(recipes, batches), flush=True)


if __name__ == "__main__":
    main()
