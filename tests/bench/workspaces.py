"""Generate workspaces of any size: the same seed gives the same files."""

from __future__ import annotations

import os
import random
import re
import subprocess
from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

from formula_vcs.law.compile_names import kept_inventory
from formula_vcs.model.content_hash import content_hash
from formula_vcs.workspace.snapshot import Snapshot, WorkTree

INGREDIENTS = 200
_AIDS = tuple(f"Aid {number}" for number in range(10))  # which no table knows: each brings a warning
_WATER = ("Glycerin",)
_IN_ANNEXES = ("Abies ", "Cedrus ", "Datura ")

_RECIPE = """\
title = "Recipe {number}"
product = "cream"
form = "emulsion"
markets = ["EU"]
pack = "75 mL"
batch = "100 kg"

[phase.A]
title = "Water phase"

[phase.A.charge]
water = "to 100"
{water_phase}

[phase.B]
title = "Oil phase"

[phase.B.charge]
{oil_phase}

[[step]]
id = "heat"
into = "main"
add = ["A"]
shear = "low"
speed = "{slow} rpm"
time = "{minutes} min"
temp = "70 to 75 degC"

[[step]]
id = "join"
into = "main"
add = ["B"]
shear = "high"
speed = "{fast} rpm"
time = "8 min"

[[step]]
id = "set-pH"
measure = "pH"
accept = "4.8 to 5.4"

[spec]
pH = "4.8 to 5.4"
viscosity = "18 to 28 Pa*s"
"""

_INGREDIENT = """\
title = "Material {number}"
supplier = "Supplier {supplier}"
functions = ["humectant"]
density = "{density} g/mL"

[substances]
"{inci}" = 95
"{aid}" = 5

[origin]
natural = 0.5
natural_origin = 0.{origin}
organic = 0
organic_origin = 0

[[price]]
cost = "{cost} EUR/kg"
since = 2026-01-05
"""


def recipe(number: int, chance: random.Random, ingredients: int = INGREDIENTS) -> str:
    """Write one recipe of fifteen charges and three steps."""
    chosen = chance.sample(range(1, ingredients), 14)
    charges = [f"material-{which} = {chance.randint(1, 50) / 10:.2f}" for which in chosen]
    return _RECIPE.format(
        number=number,
        water_phase="\n".join(charges[:8]),
        oil_phase="\n".join(charges[8:]),
        slow=chance.randint(20, 80),
        minutes=chance.randint(5, 40),
        fast=chance.randint(2000, 9000),
    )


@lru_cache(maxsize=1)
def _known() -> list[str]:
    # not of plants that a row of an annex is about: each would bring a finding (Annex II/301, III/122)
    named = (entry.inci for entry in kept_inventory() if entry.inci.endswith(" Leaf Extract"))
    return [inci for inci in named if not inci.startswith(_IN_ANNEXES)]


def _inci(number: int) -> str:
    """Give a name that the inventory has, and no annex: one of a leaf's extract."""
    return _known()[number % len(_known())]


def write(root: Path, recipes: int, seed: int = 1, ingredients: int = INGREDIENTS, aids: Sequence[str] = _AIDS) -> Path:
    """Write a workspace of some recipes with some ingredients; ``aids`` are what is in these besides."""
    chance = random.Random(seed)
    (root / "ingredients").mkdir(parents=True)
    (root / "workspace.toml").write_text('title = "Bench"\ncurrency = "EUR"\nbatch = "100 kg"\n', encoding="utf-8")
    for number in range(ingredients):
        name = f"material-{number}" if number else "water"
        text = _INGREDIENT.format(
            number=number,
            supplier=number % 7,
            density=f"{0.9 + number % 40 / 100:.2f}",
            inci=_inci(number) if number else "Aqua",
            aid=aids[number % len(aids)],
            origin=number % 9 + 1,
            cost=f"{1 + number % 30}.{number % 10}0",
        )
        (root / "ingredients" / f"{name}.toml").write_text(text, encoding="utf-8")
    for number in range(recipes):
        (root / f"recipe-{number}.toml").write_text(recipe(number, chance, ingredients), encoding="utf-8")
    return root


def small(root: Path) -> Path:
    """Write a workspace of one recipe with four ingredients."""
    (root / "ingredients").mkdir(parents=True)
    (root / "workspace.toml").write_text('title = "Small"\ncurrency = "EUR"\n', encoding="utf-8")
    for number, name in enumerate(("water", "glycerin", "oil", "wax")):
        text = _INGREDIENT.format(
            number=number, supplier=1, density="0.95", inci=_inci(number), aid=_AIDS[1], origin=9, cost="2.00"
        )
        (root / "ingredients" / f"{name}.toml").write_text(text, encoding="utf-8")
    text = _RECIPE.format(
        number=1, water_phase="glycerin = 4.00", oil_phase="oil = 6.00\nwax = 2.00", slow=40, minutes=10, fast=6000
    )
    (root / "cream.toml").write_text(text, encoding="utf-8")
    return root


_GIT = ("git", "-c", "user.name=Una", "-c", "user.email=una@example.org", "-c", "commit.gpgSign=false")

_BATCH = """\
recipe = "{recipe}"
commit = "{commit}"
hash = "{hash}"
size = "10 kg"
date = 2026-03-{day:02}
made_by = "Una"
made = "9.9 kg"
closed = 2026-03-{day:02}

[phase.A.charge]
{A}

[phase.B.charge]
{B}
{steps}
[result]
pH = "5.0"
viscosity = "20 Pa*s"
"""

_STEP = """
[[step]]
id = "{id}"
target = {{ {target} }}
started = 2026-03-{day:02}T09:13:00
ended = 2026-03-{day:02}T10:14:00
{done}done_by = "Una"
"""

_LOT = """\
ingredient = "{ingredient}"
lot = "L-1"
received = 2026-01-20
expires = 2046-01-20
status = "released"
"""

_PROOF = """\
recipe = "{recipe}"

[[proof]]
kind = "stability"
commit = "{commit}"
hash = "{hash}"
report = "R-{number}"
passed = 2026-03-02
size = "10 kg"
"""


def _made(text: str, recipe: str, commit: str, made: str, day: int) -> str:
    """Write the record of a batch that went as its recipe says."""
    phases = {name: dict(_CHARGE.findall(block)) for name, block in _PHASE.findall(text)}
    used = sum(Decimal(amount) for charges in phases.values() for amount in charges.values())
    phases["A"] = {"water": str(100 - used), **phases["A"]}
    told = {}
    for name, charges in phases.items():
        kg = {which: f"{Decimal(amount) / 10:.4f} kg" for which, amount in charges.items()}
        lines = [f'{which} = {{ target = "{it}", weighed = "{it}", lot = "{which}-1" }}' for which, it in kg.items()]
        told[name] = "\n".join(lines)
    steps = ""
    for words in text.split("[[step]]\n")[1:]:
        facts = dict(_FACT.findall(words.split("\n\n")[0]))
        aims = ("shear", "speed", "time", "temp", "accept")
        target = ", ".join(f'{key} = "{facts[key]}"' for key in aims if key in facts)
        done = "".join(f'{key} = "{facts[key]}"\n' for key in ("speed", "time") if key in facts)
        done += 'temp = "72 degC"\n' if "temp" in facts else ""
        done += "measured = 5.0\n" if "accept" in facts else ""
        steps += _STEP.format(id=facts["id"], target=target, done=done, day=day)
    return _BATCH.format(recipe=recipe, commit=commit, hash=made, day=day, steps=steps, **told)


_PHASE = re.compile(r"\[phase\.(\w)\.charge\]\n((?:.+\n)+)")
_CHARGE = re.compile(r"^(material-\d+) = ([\d.]+)$", re.MULTILINE)
_FACT = re.compile(r'^(\w+) = "(.*)"$', re.MULTILINE)


def git(folder: Path, *words: str) -> str:
    """Run git in a folder."""
    day = {f"GIT_{who}_DATE": "2026-01-05T12:00:00Z" for who in ("AUTHOR", "COMMITTER")}
    command = [*_GIT, *words]
    done = subprocess.run(command, cwd=folder, env={**os.environ, **day}, check=True, capture_output=True, text=True)
    return done.stdout.strip()


def archive(root: Path, recipes: int, ingredients: int, batches: int, proofs: int) -> Path:
    """Write and commit a firm's workspace: recipes without a warning, and what was made and tested of them.

    Batches and proofs name one of ten commits, so that versions of different days are pinned.
    """
    write(root, recipes, ingredients=ingredients, aids=_WATER)
    git(root, "init", "--quiet", "--initial-branch=main")
    git(root, "config", "gc.auto", "0")
    git(root, "add", "--all")
    git(root, "commit", "--quiet", "--message=recipes")
    with Snapshot(WorkTree(root)) as files:
        hashes = {one.id: content_hash(one, files.formula(one).premixes) for one in files.recipes()}
    names = sorted(hashes)
    texts = {name: (root / f"{name}.toml").read_text(encoding="utf-8") for name in names}
    for folder in ("batches", "evidence", "lots"):
        (root / folder).mkdir(exist_ok=True)
    for path in (root / "ingredients").iterdir() if batches else ():
        (root / "lots" / f"{path.stem}-1.toml").write_text(_LOT.format(ingredient=path.stem), encoding="utf-8")
    for year in range(10):
        commit = git(root, "rev-parse", "HEAD")
        for number in range(year, batches, 10):
            name = names[number % len(names)]
            made = _made(texts[name], name, commit, hashes[name], 1 + number % 28)
            (root / "batches" / f"b-{number:05}.toml").write_text(made, encoding="utf-8")
        for number in range(year, proofs, 10):
            name = names[number % len(names)]
            text = _PROOF.format(recipe=name, commit=commit, hash=hashes[name], number=number)
            (root / "evidence" / f"e-{number:04}.toml").write_text(text, encoding="utf-8")
        git(root, "add", "--all")
        git(root, "commit", "--quiet", "--allow-empty", f"--message=year {year}")
    git(root, "repack", "-a", "-d", "--quiet")
    return root
