"""What was written in several places stands in one: nobody spells it again, and all who ask get the same."""

from __future__ import annotations

import ast
import datetime
import os
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

import formula_vcs
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.cost import batch_mass, cost_per_kg
from formula_vcs.figures.density import density, filling_density, pack_mass
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.pack_cost import cost_per_pack
from formula_vcs.figures.process_run import process
from formula_vcs.model.batch import DONE
from formula_vcs.model.facts import ALIKE, likeness
from formula_vcs.model.recipe import STEP_RANGES, STEP_VALUES
from formula_vcs.toml.atomic import write_atomic, write_new, write_whole
from formula_vcs.units.unit_reading import read_quantity
from tests.conftest import MINIMAL, MakeWorkspace

PACKAGE = Path(formula_vcs.__file__).parent
DAY = datetime.date(2026, 6, 1)


def sources() -> Iterator[tuple[str, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        yield path.relative_to(PACKAGE).as_posix(), path.read_text("utf-8")


def holders(pattern: str) -> list[str]:
    """Name the modules in whose text a pattern stands."""
    return [name for name, text in sources() if re.search(pattern, text)]


@pytest.mark.parametrize(
    ("what", "pattern", "where"),
    [
        ("the zero of the Celsius scale", r"\b273\.15\b", ["words/numbers.py"]),
        ("the classes of COSMOS", r'"mineral", "ppai"', ["model/ingredient.py"]),
        ("what is measured on a product", r'"pH": \("number",\)', ["toml/takers.py"]),
        ("files that are written whole", r"\bmkstemp\(|\bfsync\(", ["toml/atomic.py"]),
        ("the size that is quoted for", r"recipe\.batch or |workspace\.batch\b(?! is)", ["model/formula.py"]),
        ("likeness of a renamed recipe", r"max\(len\(was", ["model/facts.py"]),
        ("a version that cannot be read", r'"no-recipe": ', ["rules/rule.py"]),
        ("what a weighing may be off", r'workspace\.get\("tolerance"', ["figures/tolerance.py"]),
        ("the lot that may not be taken", r"\.expires < (day|taker)", ["rules/records/lots.py"]),
    ],
)
def test_it_is_written_once(what: str, pattern: str, where: list[str]) -> None:
    assert where == holders(pattern), what


def test_the_values_of_a_step_are_listed_once() -> None:
    """Four and more of their names in one tuple, list or set are the same list again."""
    found = []
    for name, text in sources():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, (ast.Tuple, ast.List, ast.Set)):
                words = {item.value for item in node.elts if isinstance(item, ast.Constant)}
                found += [name] if len(words & set(STEP_VALUES)) >= 4 and len(words) <= len(DONE) else []

    assert ["model/recipe.py"] == found
    assert set(STEP_RANGES) < set(STEP_VALUES) < set(DONE)


# The size that numbers are quoted for: asked, else the recipe's, else the workspace's

CREAM = MINIMAL["cream.toml"].replace("\n\n", '\npack = "75 mL"\n\n', 1)


@pytest.mark.parametrize(
    ("own", "asked", "wanted"), [("", None, 100), ('batch = "20 kg"\n', None, 20), ('batch = "20 kg"\n', "7 kg", 7)]
)
def test_all_who_need_a_batch_size_take_the_same(
    workspace: MakeWorkspace, own: str, asked: str | None, wanted: int
) -> None:
    snapshot = workspace({"cream.toml": own + CREAM})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    formula = snapshot.formula(recipe)
    size = None if asked is None else read_quantity(asked, "mass")

    assert wanted == batch_mass(Breakdown(formula), Terms(DAY, size))
    assert wanted == process(Breakdown(formula), None if size is None else size.base).batch
    if size is None:
        assert formula.batch is not None
        assert wanted == formula.batch.base


def test_a_pack_by_volume_weighs_the_same_for_all(workspace: MakeWorkspace) -> None:
    """75 mL at the middle of the spec, 1.00 g/mL: 75 g; at the measured 0.96: 72 g; by the estimate otherwise."""
    spec = '\n[spec]\ndensity = "0.98 to 1.02 g/mL"\n'
    snapshot = workspace({"cream.toml": CREAM + spec})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    assert recipe.pack is not None
    sums = breakdown_of(snapshot.formula(recipe))
    measured = read_quantity("0.96 g/mL", "density")

    assert Fraction(75, 1000) == pack_mass(sums, recipe.pack).mass
    assert Fraction(72, 1000) == pack_mass(sums, recipe.pack, measured).mass
    assert Fraction(75, 1000) == pack_mass(sums, read_quantity("75 g", "mass")).mass
    assert 1 == filling_density(sums).value
    per_kg, per_pack = cost_per_kg(sums, Terms(DAY)), cost_per_pack(sums, Terms(DAY))
    assert per_kg.value is not None
    assert per_kg.value * 75 / 1000 == per_pack.value
    bare = workspace({"cream.toml": CREAM})
    plain = bare.recipe("cream")
    assert plain is not None
    estimate = breakdown_of(bare.formula(plain))
    assert density(estimate).value == filling_density(estimate).value


@pytest.mark.parametrize(("changed", "renamed"), [(4, True), (5, False)])
def test_likeness_of_ten_facts(changed: int, renamed: bool) -> None:
    """Six facts of ten in common are one recipe, five are two."""
    was: dict[tuple[str, ...], int] = {("spec", str(number)): number for number in range(10)}
    now: dict[tuple[str, ...], int] = {path: -1 if value < changed else value for path, value in was.items()}

    assert renamed == (likeness(was, now) >= ALIKE)


def test_a_premix_as_a_formula_keeps_its_equipment(workspace: MakeWorkspace) -> None:
    snapshot = workspace(
        {
            "cream.toml": MINIMAL["cream.toml"].replace("glycerin = 5.00", "gel = 5.00"),
            "gel.toml": 'title = "Gel"\nproduct = "premix"\n\n[phase.A.charge]\nwater = "to 100"\n\n[[step]]\n'
            'id = "stir"\ninto = "jug"\nadd = ["A"]\nshear = "low"\nmixer = "pot"\n',
            "ingredients/gel.toml": 'title = "Gel"\nrecipe = "gel"\n',
            "equipment/pot.toml": 'title = "Pot"\nkind = "vessel"\nvolume = "50 L"\n',
        }
    )
    recipe, premix = snapshot.recipe("cream"), snapshot.premix("gel")
    assert recipe is not None
    assert premix is not None
    alone = snapshot.formula(recipe).of_premix(premix)

    assert snapshot.formula(premix) == alone
    assert ["pot"] == list(alone.equipment)


@pytest.mark.parametrize("write", [write_whole, write_atomic, write_new])
def test_every_writer_brings_the_file_and_its_name_to_the_disk(
    write: object, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each asks the system to keep the content before the file has its name, and the folder afterwards."""
    asked: list[str] = []
    real = os.fsync

    def fsync(number: int) -> None:
        kind = "folder" if os.path.samestat(os.fstat(number), tmp_path.stat()) else "file"
        asked.append(f"{kind}, {'there' if (tmp_path / 'a.toml').exists() else 'not there'}")
        real(number)

    monkeypatch.setattr(os, "fsync", fsync)
    assert callable(write)
    write(tmp_path / "a.toml", b"new\n")

    assert ["file, not there", "folder, there"] == asked
    assert [b"new\n"] == [path.read_bytes() for path in tmp_path.iterdir()]
