"""The packs that ship: compiled as they stand, in the published schema, every name and number what it should be."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from formula_vcs.law import compile_packs, us_rows
from formula_vcs.law.packs_in_force import law_of, pack_names, product, product_names, shipped
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.law_row import DIMENSIONS

PACKS = compile_packs.PACKS
SCHEMA = json.loads((PACKS / "schema.json").read_text("utf-8"))
OTHERS = {"substances", "product-types", "duties", "causes"}
LAW = sorted(path for path in PACKS.glob("*.toml") if path.stem not in OTHERS)
ROWS = [pytest.param(row, id=row.id) for row in law_of((), pack_names()).all_rows()]


def test_the_compiled_packs_are_what_the_packs_say() -> None:
    """Changed a pack?  ``python -m formula_vcs.law.compile_packs``."""
    assert compile_packs.compiled() == compile_packs.TARGET.read_text("utf-8")


def test_every_pack_is_compiled() -> None:
    assert set(compile_packs.LAW) == {path.stem for path in LAW} | set(us_rows.TITLES)


@pytest.mark.parametrize("path", LAW, ids=lambda path: path.stem)
def test_a_pack_is_in_the_schema(path: Path) -> None:
    data = json.loads(json.dumps(tomllib.loads(path.read_text("utf-8")), default=str))

    jsonschema.validate(data, SCHEMA)


def test_the_table_of_duties_is_in_its_schema() -> None:
    data = json.loads(json.dumps(tomllib.loads((PACKS / "duties.toml").read_text("utf-8"))))

    jsonschema.validate(data, json.loads((PACKS / "duties.schema.json").read_text("utf-8")))


def test_ids_are_unique_over_all_packs() -> None:
    ids = [row.id for row in law_of((), pack_names()).all_rows()]

    assert sorted(set(ids)) == sorted(ids)


@pytest.mark.parametrize("row", ROWS)
def test_a_row_is_sound(row: Any) -> None:
    """It is cited, its CAS numbers check, its scope names what some product is, and its factors are known."""
    assert row.citation
    assert [""] * len(row.cas) == [cas_trouble(number) for number in row.cas]
    known = {
        "contact": {"leave-on", "rinse-off", "oral"},
        "type": {name for found in map(product, product_names()) if found for name in found.types},
    }
    for scope in (row.where, row.unless):
        for dimension in DIMENSIONS:
            if dimension in known:
                assert set(getattr(scope, dimension)) <= known[dimension]
    if row.basis and not row.per_pack:
        lacking = [key for key in row.names if row.basis not in shipped()["substances"].get(key, ("", (), {}))[2]]
        assert [] == lacking


def test_counts_of_the_law() -> None:
    """81 allergen entries (24 old, 57 new), as counted in the consolidated text of 18 May 2026."""
    entries = {row.citation for row in law_of(("EU",)).all_rows() if row.kind == "name"}

    assert 81 == len(entries)


def test_a_bad_pack_is_refused_with_all_that_is_wrong(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bad = '[[rule]]\nid = "a"\nkind = "limit"\nsubstances = ["X"]\nsource = "s"\n\n[[rule]]\nid = "b"\nkind = "sum"\n'
    (tmp_path / "bad.toml").write_text(bad, "utf-8")
    monkeypatch.setattr(compile_packs, "PACKS", tmp_path)

    with pytest.raises(ValueError, match="'at_most' is missing in row 'a'") as caught:
        compile_packs.pack("bad")

    assert "'source' is missing in row 'b'" in str(caught.value)


@pytest.mark.parametrize(
    ("named", "contact", "types"),
    [
        ("toothpaste", "oral", {"toothpaste", "oral product"}),
        ("Dentifrice", "oral", {"toothpaste", "oral product"}),
        ("body lotion", "leave-on", {"body lotion", "skin product", "body product", "leave-on product"}),
        ("baby toothpaste", "oral", {"baby toothpaste", "children's toothpaste", "toothpaste", "oral product"}),
    ],
)
def test_product_types(named: str, contact: str, types: set[str]) -> None:
    found = product(named)

    assert found is not None
    assert (contact, types) == (found.contact, set(found.types))


def test_what_is_no_product_type() -> None:
    assert product("hand creme") is None
    assert product(None) is None
