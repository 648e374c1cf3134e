"""Generate workspaces of any size: the same seed gives the same files."""

from __future__ import annotations

import random
from functools import lru_cache
from pathlib import Path

from formula_vcs.law.compile_names import kept_inventory

INGREDIENTS = 200

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
"Aid {aid}" = 5

[origin]
natural = 0.5
natural_origin = 0.{origin}
organic = 0
organic_origin = 0

[[price]]
cost = "{cost} EUR/kg"
since = 2026-01-05
"""


def recipe(number: int, chance: random.Random) -> str:
    """Write one recipe of fifteen charges and three steps."""
    chosen = chance.sample(range(1, INGREDIENTS), 14)
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
    return [entry.inci for entry in kept_inventory() if entry.inci.endswith(" Leaf Extract")]


def _inci(number: int) -> str:
    """Give a name that the inventory has, and no annex: one of a leaf's extract."""
    return _known()[number]


def write(root: Path, recipes: int, seed: int = 1) -> Path:
    """Write a workspace of some recipes with 200 ingredients."""
    chance = random.Random(seed)
    (root / "ingredients").mkdir(parents=True)
    (root / "workspace.toml").write_text('title = "Bench"\ncurrency = "EUR"\nbatch = "100 kg"\n', encoding="utf-8")
    for number in range(INGREDIENTS):
        name = f"material-{number}" if number else "water"
        text = _INGREDIENT.format(
            number=number,
            supplier=number % 7,
            density=f"{0.9 + number % 40 / 100:.2f}",
            inci=_inci(number) if number else "Aqua",
            aid=number % 10,
            origin=number % 9 + 1,
            cost=f"{1 + number % 30}.{number % 10}0",
        )
        (root / "ingredients" / f"{name}.toml").write_text(text, encoding="utf-8")
    for number in range(recipes):
        (root / f"recipe-{number}.toml").write_text(recipe(number, chance), encoding="utf-8")
    return root


def small(root: Path) -> Path:
    """Write a workspace of one recipe with four ingredients."""
    (root / "ingredients").mkdir(parents=True)
    (root / "workspace.toml").write_text('title = "Small"\ncurrency = "EUR"\n', encoding="utf-8")
    for number, name in enumerate(("water", "glycerin", "oil", "wax")):
        text = _INGREDIENT.format(
            number=number, supplier=1, density="0.95", inci=_inci(number), aid=1, origin=9, cost="2.00"
        )
        (root / "ingredients" / f"{name}.toml").write_text(text, encoding="utf-8")
    text = _RECIPE.format(
        number=1, water_phase="glycerin = 4.00", oil_phase="oil = 6.00\nwax = 2.00", slow=40, minutes=10, fast=6000
    )
    (root / "cream.toml").write_text(text, encoding="utf-8")
    return root
