"""Records as JSON, and the schemas that follow from their types."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import jsonschema
import pytest

from formula_vcs.reports import compile_schemas
from formula_vcs.reports.document.data import ABSENT, Absence, Day, Exact, SchemaRule, as_data, schema


@dataclass(frozen=True, slots=True)
class Inner:
    """A part."""

    from_: Exact
    inside: Inner | None = None


@dataclass(frozen=True, slots=True)
class Outer:
    """A whole.

    What a schema need not say.
    """

    name: Annotated[str, SchemaRule("what it is called", at_least_letters=1)]
    state: Literal["on", "off"]
    count: Annotated[int, SchemaRule(least=0)] | None
    day: Day | None
    parts: tuple[Inner, ...]
    pair: tuple[str, int]
    by_name: Mapping[str, float]
    extra: tuple[str, ...] | Absence = ABSENT


GOOD = Outer("a", "on", 3, None, (Inner("1/3", Inner("2")),), ("x", 1), {"a": 0.5})


def rules() -> jsonschema.Draft202012Validator:
    found = schema(Outer, "outer", "a title")
    jsonschema.Draft202012Validator.check_schema(found)
    return jsonschema.Draft202012Validator(found)


def test_a_record_as_data_fits_its_schema() -> None:
    expected = {
        "name": "a", "state": "on", "count": 3, "day": None, "pair": ["x", 1], "by_name": {"a": 0.5},
        "parts": [{"from": "1/3", "inside": {"from": "2", "inside": None}}],
    }  # fmt: skip

    assert expected == as_data(GOOD)
    rules().validate(as_data(GOOD))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("name", ""), ("name", None), ("state", "no"), ("count", -1), ("count", 1.5), ("day", 3), ("parts", [{}]),
        ("parts", [{"from": "1,5", "inside": None}]), ("pair", ["x"]), ("pair", ["x", 1, 2]), ("by_name", {"a": "b"}),
        ("extra", None), ("more", 1),
    ],
)  # fmt: skip
def test_what_the_types_forbid_the_schema_forbids(key: str, value: Any) -> None:
    assert not rules().is_valid({**as_data(GOOD), key: value})


def test_each_key_is_wanted_but_one_that_may_be_absent() -> None:
    data = as_data(GOOD)

    assert [] == [key for key in data if rules().is_valid({name: data[name] for name in data if name != key})]
    assert "extra" not in data


def test_what_is_no_data_is_an_error_and_no_text() -> None:
    with pytest.raises(TypeError, match="object is no data"):
        as_data({"a": object()})


@pytest.mark.parametrize(("file", "text"), list(compile_schemas.schemas()))
def test_a_schema_is_what_its_record_says(file: str, text: str) -> None:
    assert text == (compile_schemas.FOLDER / file).read_text("utf-8"), "run .ci/compile"
