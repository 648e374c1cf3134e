"""The table of causes: read strictly, in its schema, each row cited, and pushing the way that chemistry does."""

from __future__ import annotations

import json
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from formula_vcs.trace import cause_file as model
from formula_vcs.trace.cause_table import TABLE, causes, table

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads(TABLE.with_name("causes.schema.json").read_text("utf-8"))
DATA: dict[str, Any] = tomllib.loads(TABLE.read_text("utf-8"), parse_float=Decimal)
ROW: dict[str, Any] = {
    "id": "x", "symptom": "viscosity", "kind": "recipe", "what": ["amount"], "effect": "with", "why": "so",
    "source": "common practice, no source",
}  # fmt: skip
GUM = frozenset({"thickener"})


def one(row: dict[str, Any]) -> None:
    table({"title": "t", "symptom": [{"name": "viscosity"}], "cause": [row]})


def test_the_table_is_in_its_schema() -> None:
    jsonschema.validate(json.loads(TABLE_AS_JSON), SCHEMA)


TABLE_AS_JSON = json.dumps(tomllib.loads(TABLE.read_text("utf-8")))


def test_the_schema_knows_the_words_that_the_reader_knows() -> None:
    row = SCHEMA["$defs"]["cause"]["properties"]

    assert list(model.QUANTITIES) == row["what"]["items"]["enum"]
    assert list(model.ROLES) == row["role"]["items"]["enum"]
    assert list(model.KINDS) == row["kind"]["enum"]
    assert list(model.EFFECTS) == row["effect"]["enum"]
    assert list(model.CHECKED) == row["checked"]["enum"]


def test_every_row_is_read_and_cited() -> None:
    found = causes()

    assert len(DATA["cause"]) == len(found.rows)
    assert all(row.source and row.why for row in found.rows)
    assert [] == [row.id for row in found.rows if row.published and not row.checked]
    assert {symptom.name for symptom in found.symptoms} == {row.symptom for row in found.rows}


def test_every_role_and_kind_is_used() -> None:
    found = causes()

    assert set(model.KINDS) == {row.kind for row in found.rows}
    assert {"hydrate", "reshear", "emulsify", "cool", "melt", "wet"} <= {
        role for row in found.rows for role in row.role
    }


def test_functions_of_rows_are_words_that_ingredients_use() -> None:
    """A row about a function that no ingredient of the demo has is one that nobody has tried; those are listed."""
    used = set()
    for path in (ROOT / "recipes" / "ingredients").glob("*.toml"):
        used |= set(tomllib.loads(path.read_text("utf-8")).get("functions", ()))
    named = {function for row in causes().rows for function in row.of}

    assert {"electrolyte", "alkali", "active", "colourant"} == named - used


@pytest.mark.parametrize(
    ("result", "what", "of", "form", "sign"),
    [
        ("viscosity", "amount", ({"thickener"}, ()), "aqueous", 1),
        ("viscosity", "amount", ({"structurant"}, ()), "emulsion", 1),
        ("viscosity", "amount", ({"electrolyte"}, ()), "aqueous", 0),
        ("viscosity", "amount", ({"electrolyte"}, ()), "surfactant", 0),
        ("viscosity", "time", ({"thickener"}, ("hydrate",)), "aqueous", 1),
        ("viscosity", "time", ({"thickener"}, ("reshear",)), "aqueous", -1),
        ("viscosity", "yield", ((), ()), "emulsion", -1),
        ("pH", "amount", ({"acid"}, ()), "aqueous", -1),
        ("pH", "amount", ({"buffer"}, ()), "aqueous", 0),
        ("pH", "amount", ({"alkali"}, ()), "aqueous", 1),
        ("clarity", "amount", ({"solubiliser"}, ()), "surfactant", 1),
        ("haze", "amount", ({"solubiliser"}, ()), "surfactant", -1),
        ("set time", "amount", ({"structurant"}, ()), "anhydrous", -1),
        ("density", "speed", ((), ("stir",)), "surfactant", -1),
        ("separation", "time", ({"emulsifier"}, ("emulsify",)), "emulsion", -1),
        ("grit", "time", ({"thickener"}, ("hydrate",)), "aqueous", -1),
        ("foam height", "amount", ({"emollient"}, ()), "surfactant", -1),
        ("foam height", "amount", ({"surfactant"}, ()), "surfactant", 1),
        ("hardness", "amount", ({"structurant"}, ()), "anhydrous", 1),
        ("fluoride", "amount", ({"abrasive"}, ()), "paste", -1),
        ("syneresis", "amount", ({"stabiliser"}, ()), "aqueous", -1),
    ],
)
def test_it_pushes_the_way_that_chemistry_does(
    result: str, what: str, of: tuple[set[str], tuple[str, ...]], form: str, sign: int
) -> None:
    symptom = causes().symptom(result)
    assert symptom is not None
    found = [row for row in causes().of(symptom) if what in row.what and row.fits(*of, form)]

    assert {sign} == {row.sign for row in found}


@pytest.mark.parametrize(
    ("name", "symptom"),
    [
        ("Viscosity", "viscosity"), ("viscosity 24 h", "viscosity"), ("viscosity_20degC", "viscosity"), ("pH", "pH"),
        ("loss on drying", "water content"), ("water activity", "water activity"),
        ("water", "water content"),
        ("clarity, 24 h", "clarity"), ("setting time", "set time"),
        ("syneresis, 4 weeks", "separation"), ("drop size", "droplet size"),
    ],
)  # fmt: skip
def test_a_result_is_known_by_its_names(name: str, symptom: str) -> None:
    found = causes().symptom(name)

    assert found is not None
    assert symptom == found.name


@pytest.mark.parametrize("name", ["phase", "viscous", "phosphate", "odourless code", ""])
def test_a_name_that_only_looks_alike_is_none(name: str) -> None:
    assert causes().symptom(name) is None


def test_words_of_a_note_have_a_direction() -> None:
    symptom = causes().symptom("viscosity")
    assert symptom is not None

    assert [-1, 1, 0, 0] == [
        symptom.said(text) for text in ("ran off: thin", "Rather stiff.", "thinking", "thin, then thick")
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"effect": "sideways"}, "'sideways' is not known"),
        ({"what": ["amont"]}, "did you mean 'amount'"),
        ({"role": ["hydrat"]}, "did you mean 'hydrate'"),
        ({"colour": "blue"}, "unknown key 'colour'"),
        ({"symptom": "taste"}, "no symptom is called 'taste'"),
        ({"source": "A. Book"}, "say how the source was checked"),
        ({"checked": "text"}, "common practice has no source to check"),
        ({"what": ["certificate"]}, "is meant by its 'name'"),
        ({"name": ["pH"]}, "is meant by its 'name'"),
        ({"of": []}, "a list of words"),
    ],
)
def test_a_bad_row_is_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match="causes: ") as refused:
        one(ROW | change)

    assert words in str(refused.value)


def test_a_good_row_is_taken_and_one_id_stands_once() -> None:
    one(ROW)
    with pytest.raises(ValueError, match="'x' stands twice"):
        table({"title": "t", "symptom": [{"name": "viscosity"}], "cause": [ROW, ROW]})


def test_what_the_model_says_of_evidence() -> None:
    row = causes().rows[0]

    assert row.published
    assert "(from memory)" in row.cited
    assert row.fits(GUM, (), None)


@pytest.mark.parametrize("name", ["flow", "set", "penetration", "Bostwick flow"])
def test_a_name_that_may_run_either_way_is_not_known(name: str) -> None:
    """A longer flow is a thinner product, a higher yield value a thicker one: such a name says no direction."""
    assert causes().symptom(name) is None


@pytest.mark.parametrize(
    ("word", "function"),
    [
        ("Gelling agent", "thickener"), ("stabilizer", "stabiliser"), ("ph adjuster", "pH adjuster"),
        ("Film-forming agent", "film former"), ("co emulsifier", "co-emulsifier"), ("thickener", "thickener"),
        ("unheard of", "unheard of"),
    ],
)  # fmt: skip
def test_a_function_is_known_by_other_words(word: str, function: str) -> None:
    assert function == causes().function(word)


@pytest.mark.parametrize(
    ("name", "of", "sign"),
    [
        ("hydroxyl value", "structurant", 0), ("melting point", "structurant", 1),
        ("degree of substitution", "thickener", 0),
        ("assay", "thickener", 1), ("moisture", "thickener", -1),
    ],
)  # fmt: skip
def test_a_value_of_a_lot_pushes_the_viscosity_of_a_cream(name: str, of: str, sign: int) -> None:
    """A higher hydroxyl value of a fatty alcohol is a shorter chain: cetyl 231, stearyl 207 mg KOH/g, by arithmetic."""
    symptom = causes().symptom("viscosity")
    assert symptom is not None
    found = [row for row in causes().of(symptom) if row.names(name) and row.fits({of}, (), "emulsion")]

    assert {sign} == {row.sign for row in found if row.kind == "lot"}
