"""A small shop with a lotion, its gum gel, batches and lots, for tests of trace; each part is a text to change."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.git import repository
from formula_vcs.model.batch import Batch
from formula_vcs.trace.batch_context import Records
from formula_vcs.trace.trace import Trace, Tracer
from formula_vcs.workspace.snapshot import Snapshot, WorkTree

LOTION = """\
title   = "Lotion"
product = "hand cream"
form    = "emulsion"
pack    = "75 mL"

[phase.A.charge]
water = "to 100"
gel   = 10.00
gum   = 0.30

[phase.B.charge]
oil   = 10.00
fixer = 4.00

[[step]]
id    = "pour"
into  = "main"
add   = ["A/water", "A/gum"]
shear = "high"
mixer = "rotor"
speed = "3000 rpm"
time  = "8 min"
temp  = "20 to 30 degC"

[[step]]
id    = "stir-in"
into  = "main"
add   = ["A"]
shear = "low"
time  = "10 min"
temp  = "20 to 30 degC"

[[step]]
id    = "melt"
into  = "side"
add   = ["B"]
shear = "low"
time  = "20 min"
temp  = "75 to 79 degC"

[[step]]
id    = "emulsify"
into  = "main"
from  = "side"
shear = "high"
mixer = "rotor"
speed = "3000 rpm"
time  = "6 min"
temp  = "72 to 78 degC"

[spec]
pH        = "4.8 to 5.4"
viscosity = "18 to 28 Pa*s"
"""
GEL = """\
title   = "Gel"
product = "premix"
form    = "aqueous"

[phase.A.charge]
water    = "to 100"
kelp-gum = 4.00

[[step]]
id    = "open"
into  = "main"
add   = ["A"]
shear = "high"
mixer = "rotor"
speed = "3000 rpm"
time  = "12 min"
temp  = "20 to 40 degC"

[spec]
viscosity = "12 to 22 Pa*s"
"""


def material(inci: str, functions: str, more: str = "") -> str:
    """Write an ingredient."""
    return f'title = "{inci}"\nfunctions = [{functions}]\ndensity = "1 g/mL"\n{more}\n[substances]\n"{inci}" = 100\n'


def lot(number: str, viscosity: str) -> str:
    """Write a lot of kelp gum."""
    head = f'ingredient = "kelp-gum"\nlot = "{number}"\nstatus = "released"\n'
    return f'{head}\n[certificate]\nviscosity = "{viscosity}"\n'


SHOP: Mapping[str, str] = {
    "workspace.toml": 'title = "Shop"\ncurrency = "EUR"\nbatch = "100 kg"\ntolerance = "1 %"\n',
    "lotion.toml": LOTION,
    "premixes/gel.toml": GEL,
    "ingredients/water.toml": material("Aqua", '"solvent"'),
    "ingredients/gum.toml": material("Xanthan Gum", '"thickener", "stabiliser"')
    + '\n[spec]\nviscosity = "1200 to 1600 mPa*s"\n',
    "ingredients/kelp-gum.toml": material("Algin", '"thickener"') + '\n[spec]\nviscosity = "1000 to 1400 mPa*s"\n',
    "ingredients/oil.toml": material("Seed Oil", '"emollient"'),
    "ingredients/fixer.toml": material("Cetearyl Glucoside", '"emulsifier"'),
    "ingredients/gel.toml": 'title = "Gel"\nrecipe = "gel"\nfunctions = ["thickener"]\ndensity = "1.02 g/mL"\n',
    "equipment/rotor.toml": 'title = "Rotor"\nkind = "rotor-stator"\nrotor = "90 mm"\ngap = "0.5 mm"\n',
    "lots/k-1.toml": lot("K1", "1300 mPa*s"),
    "lots/k-2.toml": lot("K2", "1.02 Pa*s"),
}
PCT = {"A": {"water": "75.7", "gel": "10", "gum": "0.3"}, "B": {"oil": "10", "fixer": "4"}}


def gel(name: str, commit: str, of: str, viscosity: str, day: str = "2026-01-10") -> dict[str, str]:
    """Write a batch of the gel."""
    text = (
        f'recipe = "gel"\ncommit = "{commit}"\nhash = "{"0" * 64}"\nsize = "10 kg"\ndate = {day}\nclosed = {day}\n'
        f'made = "9.9 kg"\n\n[phase.A.charge]\nwater = {{ target = "9.6 kg", weighed = "9.6 kg", lot = "w" }}\n'
        f'kelp-gum = {{ target = "0.4 kg", weighed = "0.4 kg", lot = "{of}" }}\n\n'
        f'[[step]]\nid = "open"\nspeed = "3000 rpm"\ntime = "12 min"\ntemp = "30 degC"\n\n'
        f'[result]\nviscosity = "{viscosity}"\n'
    )
    return {f"batches/{name}.toml": text}


def lotion(
    name: str,
    commit: str,
    *,
    weighed: Mapping[str, str] | None = None,
    lots: Mapping[str, str] | None = None,
    steps: Mapping[str, str] | None = None,
    results: str = 'pH = "5.0"\nviscosity = "23.0 Pa*s"\n',
    day: str = "2026-01-20",
    more: str = "",
) -> dict[str, str]:
    """Write a batch of the lotion: all as asked, but what is given."""
    weighed, lots, steps = weighed or {}, {"gel": "g-1", **(lots or {})}, steps or {}
    text = (
        f'recipe = "lotion"\ncommit = "{commit}"\nhash = "{"0" * 64}"\nsize = "100 kg"\ndate = {day}\nclosed = {day}\n'
        f'made = "98 kg"\npacks = 1300\n{more}'
    )
    for phase, charges in PCT.items():
        text += f"\n[phase.{phase}.charge]\n"
        for ingredient, kg in charges.items():
            mass = weighed.get(ingredient, f"{kg} kg")
            text += (
                f'{ingredient} = {{ target = "{kg} kg", weighed = "{mass}", lot = "{lots.get(ingredient, "x")}" }}\n'
            )
    for step, values in (
        ("pour", 'speed = "3000 rpm"\ntime = "8 min"\ntemp = "25 degC"\n'),
        ("stir-in", 'time = "10 min"\ntemp = "25 degC"\n'),
        ("melt", 'time = "20 min"\ntemp = "77 degC"\n'),
        ("emulsify", 'speed = "3000 rpm"\ntime = "6 min"\ntemp = "75 degC"\n'),
    ):
        text += f'\n[[step]]\nid = "{step}"\n{steps.get(step, values)}'
    return {f"batches/{name}.toml": f"{text}\n[result]\n{results}"}


@contextmanager
def tracer(folder: Path) -> Iterator[Tracer]:
    """Open a workspace at the top of a repository."""
    repo = repository.open_repo(folder)
    with Snapshot(WorkTree(folder, "")) as snapshot, PinnedVersions(repo, "") as pins:
        yield Tracer(Records(snapshot), pins, repo, "")


def traced(folder: Path, old: str, new: str) -> Trace:
    """Trace two batches."""
    with tracer(folder) as found:
        return found.trace(batch(found, old), batch(found, new))


def batch(found: Tracer, name: str) -> Batch:
    """Give a batch that is there."""
    there = found.records.batch(name)
    assert there is not None, name
    return there


def fits(trace: Trace, result: str = "viscosity") -> list[str]:
    """Give the ids of what fits a result, in order."""
    return [item.difference.id for one in trace.explained if one.result == result for item in one.fits]


def against(trace: Trace, result: str = "viscosity") -> list[str]:
    """Give the ids of what points the other way."""
    return [item.difference.id for one in trace.explained if one.result == result for item in one.against]


Repo = Any
