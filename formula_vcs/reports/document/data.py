"""Records as JSON, and the JSON schema that follows from their types.

A record is a frozen dataclass whose fields are the keys, in their order; ``from_`` is the key ``from``.  A field with
the default `ABSENT` is left out where nothing was given.  What a type does not say stands beside it as a `SchemaRule`,
and the first paragraph of a record's docstring is its description.
"""

from __future__ import annotations

import json
import types
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from typing import Annotated, Any, Final, Literal, TextIO, TypeAlias, Union, get_args, get_origin, get_type_hints

from formula_vcs.model.values import dataclass


class Absence(Enum):
    """The value of a key that is not there."""

    ABSENT = "absent"


ABSENT: Final = Absence.ABSENT


@dataclass(frozen=True)
class SchemaRule:
    """What a schema says beside a type; a ``name`` makes it a definition of its own."""

    description: str = ""
    name: str = ""
    pattern: str = ""
    format: str = ""
    least: int | None = None
    at_least_items: int | None = None
    at_least_letters: int | None = None
    one_of: tuple[str, ...] = ()


Exact: TypeAlias = Annotated[
    str,
    SchemaRule(
        "An exact number: a decimal, or a fraction where no finite decimal exists",
        name="number",
        pattern=r"^-?[0-9]+(\.[0-9]+|/[1-9][0-9]*)?$",
    ),
]
Name: TypeAlias = Annotated[str, SchemaRule(at_least_letters=1)]
Day: TypeAlias = Annotated[str, SchemaRule(format="date")]
CommitId: TypeAlias = Annotated[str, SchemaRule(pattern="^([0-9a-f]{40}|[0-9a-f]{64})$")]


def dump(record: object, out: TextIO) -> None:
    """Write a record, or data made of dicts and lists, as JSON that any terminal and any encoding survive."""
    # in one piece: of eleven megabytes a write for each token is a third of the time
    out.write(json.dumps(as_data(record), indent=2, ensure_ascii=True) + "\n")


def as_data(value: object) -> Any:  # noqa: ANN401  JSON
    """Give a record as dicts and lists."""
    if isinstance(value, str | int | float) or value is None:
        return value
    if isinstance(value, Mapping):
        return {key: as_data(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [as_data(item) for item in value]
    if is_dataclass(value):
        items = ((field.name, getattr(value, field.name)) for field in fields(value))
        return {name.removesuffix("_"): as_data(item) for name, item in items if item is not ABSENT}
    raise TypeError(f"{type(value).__name__} is no data")


def schema(record: object, name: str, title: str) -> dict[str, Any]:
    """Give the JSON schema (draft 2020-12) of a record, or of one of several."""
    definitions: dict[str, Any] = {}
    found = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"https://formula-vcs.invalid/schemas/{name}.json",
        "title": title,
        **(_object(record, definitions) if isinstance(record, type) else _type(record, definitions)),
    }
    return {**found, "$defs": dict(sorted(definitions.items()))} if definitions else found


def _object(record: type, definitions: dict[str, Any]) -> dict[str, Any]:
    hints = get_type_hints(record, include_extras=True)
    about = (record.__doc__ or "").strip().partition("\n\n")[0].split()
    keys = fields(record)
    return {
        "description": " ".join(about).removesuffix("."),
        "type": "object",
        "additionalProperties": False,
        "required": [key.name.removesuffix("_") for key in keys if key.default is MISSING],
        "properties": {key.name.removesuffix("_"): _type(hints[key.name], definitions) for key in keys},
    }


def _type(hint: object, definitions: dict[str, Any]) -> dict[str, Any]:  # noqa: PLR0911  a line a kind
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _ruled(parts[0], parts[1:], definitions)
    if origin is Literal:
        return {"enum": list(parts)}
    if origin in (Union, types.UnionType):
        return _union([part for part in parts if part is not Absence], definitions)
    if origin is tuple or origin is list:
        if origin is tuple and parts[1:] != (...,):
            each = [_type(part, definitions) for part in parts]
            return {"type": "array", "prefixItems": each, "items": False, "minItems": len(parts)}
        return {"type": "array", "items": _type(parts[0], definitions)}
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _type(parts[1], definitions)}
    if isinstance(hint, type) and is_dataclass(hint):
        if hint.__name__ not in definitions:
            definitions[hint.__name__] = {}  # it may hold itself
            definitions[hint.__name__] = _object(hint, definitions)
        return {"$ref": f"#/$defs/{hint.__name__}"}
    if hint is Any:
        return {}
    return {"type": _SIMPLE[hint]}


_SIMPLE: Final[dict[object, str]] = {
    str: "string",
    int: "integer",
    float: "number",
    bool: "boolean",
    types.NoneType: "null",
}


def _union(parts: list[Any], definitions: dict[str, Any]) -> dict[str, Any]:
    found = [_type(part, definitions) for part in parts]
    if len(found) == 1:
        return found[0]
    null = {"type": "null"}
    if null in found and len(found) == 2 and "type" in found[0]:
        return {**found[0], "type": [found[0]["type"], "null"]}
    if all(set(one) == {"type"} for one in found):
        return {"type": [one["type"] for one in found]}
    return {"anyOf": found}


def _one_of(rule: SchemaRule, found: Mapping[str, Any]) -> list[str | None]:
    null = isinstance(found.get("type"), list) and "null" in found["type"]
    return [*rule.one_of, None] if rule.one_of and null else [*rule.one_of]


def _ruled(hint: object, rules: tuple[object, ...], definitions: dict[str, Any]) -> dict[str, Any]:
    found = _type(hint, definitions)
    name = ""
    for rule in rules:
        if not isinstance(rule, SchemaRule):
            continue
        name = name or rule.name
        said = {
            "pattern": rule.pattern, "format": rule.format, "minimum": rule.least, "enum": _one_of(rule, found),
            "minItems": rule.at_least_items, "minLength": rule.at_least_letters,
        }  # fmt: skip
        about = {"description": rule.description} if rule.description else {}
        found = {**about, **found, **{key: value for key, value in said.items() if value not in ("", None, [])}}
    if not name:
        return found
    definitions[name] = found
    return {"$ref": f"#/$defs/{name}"}
