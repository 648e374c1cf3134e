"""A workspace whose recipes two people edit at once, in a clone that is armed."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

import formula_vcs
from formula_vcs.git import repository
from formula_vcs.setup import arm
from tests.git.helpers_git import Scratch, scratch

CREAM = """\
# the recipe that the spring range rests on
title   = "Cream"
product = "hand cream"
form    = "emulsion"
claims  = ["natural-origin at least 20 %"]

[phase.A.charge]
water    = "to 100"
glycerin = 4.00   # humectant

[phase.B.charge]
# pressed cold
oil = 6.00
wax = 2.00

[phase.C.charge]
acid = { pct = 0.20, for = "pH", at_most = 0.40 }
scent = 0.10

[[step]]
id    = "melt"
into  = "pot"
add   = ["B"]
shear = "low"
temp  = "70 to 75 degC"
time  = "10 min"

[[step]]
id    = "heat-water"
into  = "main"
add   = ["A"]
shear = "low"
temp  = "70 to 75 degC"
time  = "10 min"

[[step]]
id    = "join"
into  = "main"
from  = "pot"
shear = "high"
temp  = "70 to 75 degC"
time  = "5 min"

[[step]]
id    = "finish"
into  = "main"
add   = ["C"]
shear = "low"
temp  = "30 to 35 degC"
time  = "5 min"

[[step]]
id      = "set-pH"
into    = "main"
measure = "pH"
accept  = "4.8 to 5.2"
adjust  = ["C/acid"]

[spec]
pH = "4.8 to 5.2"
"""

INCI = {
    "water": "Aqua",
    "glycerin": "Glycerin",
    "oil": "Helianthus Annuus Seed Oil",
    "wax": "Cera Alba",
    "acid": "Citric Acid",
    "scent": "Parfum",
    "benzoate": "Sodium Benzoate",
    "sorbate": "Potassium Sorbate",
    "oil-organic": "Helianthus Annuus Seed Oil",
}

HOUSE = """\
[[rule]]
id         = "house-preservatives"
kind       = "sum"
substances = ["Sodium Benzoate", "Potassium Sorbate"]
at_most    = "0.5 %"
source     = "house standard HS-3"
"""


def workspace() -> dict[str, str]:
    """Give the texts of the workspace."""
    texts = {"workspace.toml": 'title = "Shed"\ncurrency = "EUR"\n', "cream.toml": CREAM, "rules/house.toml": HOUSE}
    for name, inci in INCI.items():
        texts[f"ingredients/{name}.toml"] = f'title = "{name}"\n\n[substances]\n"{inci}" = 100\n'
    return texts


def program(folder: Path) -> Path:
    """Put a git-formula there that runs this very tree."""
    root = Path(formula_vcs.__file__).parents[1]
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "git-formula"
    words = f"PYTHONPATH={shlex.quote(str(root))} exec {shlex.quote(sys.executable)}"
    file.write_text(f'#!/bin/sh\n{words} -m formula_vcs "$@"\n')
    file.chmod(0o755)
    return file


def armed(folder: Path, where: str = "") -> Scratch:
    """Make a repository with the workspace in a folder, armed without hooks, all of it committed."""
    made = scratch(folder)
    lead = f"{where}/" if where else ""
    made.commit({f"{lead}{name}": text for name, text in workspace().items()}, "a cream")
    repo = repository.open_repo(made.top)
    arm.carry_out(repo, arm.plan(repo, made.top / where, arm.Options(hooks="none", diff_driver=False)))
    made.commit({}, "armed")
    return made


def branch(made: Scratch, name: str, files: dict[str, str], start: str = "main") -> None:
    """Make a branch with one commit and stay on it."""
    made.git("checkout", "--quiet", "-b", name, start)
    made.commit(dict(files), f"{name} it")
