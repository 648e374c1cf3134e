"""A small shop to run commands on: one scrub with two grades of one name, a premix, a toner with claims."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import formula_vcs.reports
from formula_vcs.cli import main

DAY = "2026-06-01"
SCHEMAS = Path(formula_vcs.reports.__file__).parent / "schemas"
GOLDEN = Path(__file__).parents[1] / "reports" / "golden"

POLISH = """\
title   = "Reef face polish"
product = "face scrub"
form    = "paste"
markets = ["EU", "US"]
claims  = ["natural-origin at least 99 %"]
pack    = "100 g"
batch   = "100 kg"

[phase.A]
title = "Gel base"

[phase.A.charge]
water             = "to 100"
glycerin          = 14.00
silica-thickening = 4.50
kelp-gel          = 6.00

[phase.B]
title = "Polish"

[phase.B.charge]
silica-polishing = 9.00
citric-acid      = { pct = 0.40, for = "pH", at_most = 0.80 }

[[step]]
id    = "open-silica"
into  = "main"
add   = ["A"]
shear = "high"
speed = "3200 rpm"
time  = "12 min"

[[step]]
id    = "fold-polish"
into  = "main"
add   = ["B"]
shear = "fold"
time  = "20 min"

[[step]]
id      = "set-pH"
measure = "pH"
accept  = "4.9 to 5.4"
adjust  = ["B/citric-acid"]

[spec]
pH = "4.9 to 5.4"
"""

TONER = """\
title   = "Quay toner"
product = "toner"
form    = "aqueous"
markets = ["US"]
claims  = ["natural at least 98 %", "natural-origin at least 100 % without water"]
pack    = "100 mL"
batch   = "50 kg"

[phase.A.charge]
water       = "to 100"
glycerin    = 1.00
citric-acid = 0.10

[[step]]
id    = "mix"
into  = "main"
add   = ["A"]
shear = "low"
"""

KELP_GEL = """\
title   = "Kelp gel"
product = "premix"
form    = "aqueous"
batch   = "10 kg"

[phase.A.charge]
water    = "to 100"
kelp-gum = 4.00
glycerin = 10.00

[[step]]
id    = "mix"
into  = "main"
add   = ["A"]
shear = "low"
"""


def material(
    title: str, inci: str, cas: str, price: str, more: str = "", *, natural: str = "0", density: str = "1 g/mL"
) -> str:
    """Write an ingredient of one substance that is wholly of natural origin."""
    prices = "\n".join(f"[[price]]\n{line}\n" for line in price.split("|"))
    return (
        f'title = "{title}"\nsupplier = "Tern Rock"\ndensity = "{density}"\n\n'
        f'[substances]\n"{inci}" = {{ pct = 100, cas = "{cas}" }}\n\n'
        f"[origin]\nnatural = {natural}\nnatural_origin = 1\norganic = 0\norganic_origin = 0\n{more}\n\n{prices}"
    )


SHOP: Mapping[str, str] = {
    "workspace.toml": 'title = "Reef"\ncurrency = "EUR"\n',
    "polish.toml": POLISH,
    "toner.toml": TONER,
    "premixes/kelp-gel.toml": KELP_GEL,
    "ingredients/water.toml": material(
        "Water", "Aqua", "7732-18-5", 'cost = "0.005 EUR/kg"', "formulation_water = true", natural="1"
    ),
    "ingredients/glycerin.toml": material(
        "Glycerin 99.5 %", "Glycerin", "56-81-5",
        'cost = "1.60 EUR/kg"\nfrom = "25 kg"|cost = "1.20 EUR/kg"\nfrom = "250 kg"', density="1.26 g/mL",
    ),
    "ingredients/silica-thickening.toml": material(
        "Silica, thickening", "Hydrated Silica", "10279-57-9", 'cost = "3.10 EUR/kg"',
        '\n[handling]\nshear_at_least = "high"\n', density="2.00 g/mL",
    ),
    "ingredients/silica-polishing.toml": material(
        "Silica, polishing", "Hydrated Silica", "10279-57-9", 'cost = "2.60 EUR/kg"',
        '\n[handling]\nshear_at_most = "low"\nhazards = ["H319"]\n', density="2.10 g/mL",
    ),
    "ingredients/kelp-gum.toml": material("Kelp gum", "Algin", "9005-38-3", 'cost = "9.00 EUR/kg"', natural="1"),
    "ingredients/citric-acid.toml": material("Citric acid", "Citric Acid", "77-92-9", 'cost = "1.10 EUR/kg"'),
    "ingredients/mica.toml": material("Mica", "Mica", "12001-26-2", 'cost = "4.00 EUR/kg"', natural="1"),
    "ingredients/kelp-gel.toml": 'title = "Kelp gel"\nrecipe = "kelp-gel"\ndensity = "1.02 g/mL"\n',
}  # fmt: skip

# An amount, the grade swap that breaks it, and a step's time; the claim stays.
SWAPPED = (
    POLISH.replace("silica-thickening = 4.50", "silica-polishing  = 4.50")
    .replace("glycerin          = 14.00", "glycerin          = 12.00")
    .replace('time  = "20 min"', 'time  = "25 min"')
)

# Everything that a terminal, markdown, HTML, GitHub or a CI runner could take for its own.
HOSTILE = (
    "\x1b[31mred\u202e `tick` | pipe <b>html</b> @team #12 [a](b) ::error::boom ##[error]x\n::warning::two $x$ a*b_c"
)
HOSTILE_TOML = HOSTILE.replace("\x1b", "\\u001b").replace("\u202e", "\\u202e").replace("\n", "\\n")


@dataclass(frozen=True)
class Said:
    """What a command did."""

    status: int
    out: str
    err: str

    @property
    def lines(self) -> list[str]:
        """Give what it printed, without the blanks at the ends."""
        return [line.strip() for line in self.out.splitlines()]

    def json(self, schema: str) -> Any:
        """Give its JSON, held against a schema."""
        data = json.loads(self.out)
        validate(data, schema)
        return data


def validate(data: object, schema: str) -> None:
    """Hold data against a schema that we ship."""
    rules = json.loads((SCHEMAS / f"{schema}.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(rules).validate(data)


def run(capsys: pytest.CaptureFixture[str], *words: str) -> Said:
    """Run a command in this process, on the fixed day where it takes one."""
    capsys.readouterr()
    dated = [words[0], "--as-of", DAY, *words[1:]] if words[0] in ("show", "diff", "review", "check") else list(words)
    status = main(dated)
    said = capsys.readouterr()
    return Said(status, said.out, said.err)


def golden(name: str, text: str) -> str:
    """Give the stored output of that name; UPDATE_GOLDEN=1 stores this one, to be read before it is committed."""
    path = GOLDEN / name
    if os.environ.get("UPDATE_GOLDEN"):
        path.write_text(text, encoding="utf-8")
    return path.read_text(encoding="utf-8")
