"""A JSON schema for each kind of file, made by asking its reader: what it refuses there, the schema refuses.

The readers are strict, so they are asked as a chemist asks them: an unknown key is answered with the known ones, a
wrong value with what is wanted there, a table without a key with the key that is missing.  Nothing is said twice, so
that no table of a reader can change without its schema.  They are asked once, when the package is made (`.ci/compile`).

A schema sees kinds of values and keys, not what a text says: '"8 min"' and '"eight"' are both a text.  Nor does it see
quotes around a date, because JSON has no dates.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from itertools import combinations, islice, product
from typing import Any, Final, NamedTuple

from formula_vcs.model.evidence import KINDS
from formula_vcs.model.facts import Unread
from formula_vcs.toml.readers import READERS
from formula_vcs.units.unit_reading import EXAMPLES
from formula_vcs.words.late_pattern import late_pattern

ROW: Final = "[]"
MUST: Final = "; must be there"
STRANGE: Final = "0000000000"  # a key that no table has, and that is like none
NAMED: Final = {
    "phase": "A", "charge": "ID", "substances": "NAME", "allergens": "NAME", "spec": "NAME", "item": "NAME",
    "claim": "WORDS", "person": "ID", "kind": "NAME",
}  # fmt: skip
# what a key of a row asks for beside it, before it says what it takes itself
AROUND: Final[dict[tuple[str, ...], dict[str, Any]]] = {
    ("pair", ROW): {"together": "vessel", "other": {"substances": ["Aqua"]}},
    ("step", ROW, "add", ROW): {"what": "A"},
}
# kind: its files, and what such a file is
FILES: Final = {
    "workspace": ("workspace.toml", "the defaults of all recipes"),
    "recipe": ("*.toml", "a recipe, or a premix"),
    "ingredients": ("ingredients/*.toml", "one raw material as bought"),
    "equipment": ("equipment/*.toml", "a mixer, a vessel, a balance"),
    "packaging": ("packaging/*.toml", "what one pack is made of"),
    "batches": ("batches/*.toml", "one making of a recipe"),
    "lots": ("lots/*.toml", "one delivery of a raw material, one batch of a premix"),
    "evidence": ("evidence/*.toml", "what was proved of which version"),
    "rules": ("rules/*.toml", "rules of the house"),
    "approvals": ("approvals/trust.toml", "who may sign as what"),
}
# words that ship for a key that takes a house's own too; they are offered, and asked what they want beside them
_OFFERED: Final[dict[tuple[str, ...], tuple[str, ...]]] = {("proof", ROW, "kind"): tuple(KINDS)}
# the key of a kind whose value changes what another table takes, and the values besides the first
_MODES: Final = {"recipe": ("amounts", ("parts", "mass", "w/v"), "phase")}
# names that a table of the writer's own may hold and that take less than others do
_MEASURED: Final = ("pH", "viscosity", "density")
_TEXTS: Final = (
    "x", *EXAMPLES.values(), "to 100", "q.s.", "EUR", "0.862 EUR", "2.50 EUR/kg", "18/104", "children under 3",
    "1 to 1.5", "about 100 g", "a" * 40, "0" * 64, "56-81-5", "0.188 to 0.254 %", "below 11", "above 5.5", "5 K", "W/O",
    "5.0", "1 mm", "20 degC", "3 kg", "USD", "2 degC", "10 min", "una@example.org", f"ssh-ed25519 {'A' * 68}",
)  # fmt: skip
_NUMBERS: Final = tuple(map(Decimal, ("1", "0", "0.5", "2", "100", "101", "-1")))
_DAY: Final = datetime.date(2026, 1, 5)
_MOMENT: Final = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)
_KNOWN: Final = late_pattern(rf"unknown key '{STRANGE}'.*?; known here: (.*)", re.DOTALL)
_WANTED: Final = late_pattern(r"; (.+?),? is wanted here", re.DOTALL)
_SPECIAL: Final = late_pattern(r"[.^$*+?()\[\]{}|\\]")  # and no more: some editors refuse an escape that is not needed
_LACKS: Final = late_pattern(r"'(\w+)' is missing in it$")
_WRITE: Final = late_pattern(r"; (?:write )?(.+)", re.DOTALL)
_WORDS: Final = late_pattern(r"; known: (.+)$", re.DOTALL)
_MOST_SAMPLES: Final = 3

Place = Callable[[Any], dict[str, Any]]
Schema = dict[str, Any]


class TableKey(NamedTuple):
    """One key: its place in the file as it is written, what it takes, and whether it must be there."""

    path: str
    takes: str
    required: bool


# What a reader says


def _refused(kind: str, data: dict[str, Any]) -> dict[tuple[str, ...], Unread]:
    return {path: value for path, value in READERS[kind](data).items() if isinstance(value, Unread)}


def _own(kind: str, place: Place, key: str, value: Any) -> list[str]:
    """Give what is said about the value of a key; where its table takes the blame, what is said at all."""
    found = {path: no.message for path, no in _refused(kind, place(value)).items() if no.rule != "missing-value"}
    return [message for path, message in found.items() if key in path] or list(found.values())


def _known(kind: str, place: Place) -> tuple[str, ...]:
    """Name the keys of a table; nothing where it is none, or where its keys are the writer's own."""
    found = (_KNOWN.search(no.message) for no in _refused(kind, place({STRANGE: _MOMENT})).values())
    return next((tuple(match[1].split(", ")) for match in found if match), ())


def _missing(kind: str, place: Place, depth: int, given: Mapping[str, Any] = {}) -> set[str]:
    refused = _refused(kind, place(dict(given)))
    found = {path: no.message for path, no in refused.items() if no.rule == "missing-value"}
    own = {path[-1] for path in found if len(path) == depth + 1}
    # a table that is a value for its reader says within what it is missing
    return own or {match[1] for path, text in found.items() if len(path) < depth and (match := _LACKS.search(text))}


def _takes(kind: str, place: Place, path: tuple[str, ...]) -> str:
    """Say what a place takes, in the words of the refusal of what it does not take."""
    key = path[-1]
    inside = _in_table(place, key, _around(path))
    messages = _own(kind, inside, key, _MOMENT) or _own(kind, inside, key, True)
    found = (match[1] for pattern in (_WANTED, _WRITE) for text in messages if (match := pattern.search(text)))
    wanted = next(found, "any value")
    if wanted == "a bare number" and any(
        "more than the whole" in text for text in _own(kind, inside, key, Decimal(101))
    ):
        return "a bare number, %, 0 to 100"
    return f"an id: {wanted.removesuffix(' make one')}" if wanted.endswith(" make one") else wanted


def _around(path: tuple[str, ...]) -> dict[str, Any]:
    return AROUND.get(path[:-1], {})


def _in_table(place: Place, key: str, around: Mapping[str, Any] = {}) -> Place:
    return lambda value: place({**around, key: value})


def _in_row(place: Place, key: str) -> Place:
    return lambda value: place({key: [value]})


def _is_each(kind: str, place: Place) -> bool:
    """Say whether a table has keys of the writer's own."""
    told = [path for path in _refused(kind, place({STRANGE: _MOMENT})) if STRANGE in path]
    return bool(told) and not _known(kind, place)


# The keys, as the manual lists them


def keys(kind: str) -> list[TableKey]:
    """List all keys of a kind of file, each followed by those below it."""
    return list(_keys_below(kind, lambda value: value, ()))


def _keys_below(kind: str, place: Place, path: tuple[str, ...]) -> Iterator[TableKey]:
    required = _missing(kind, place, len(path))
    for key in _known(kind, place):
        yield from _key(kind, place, (*path, key), key in required)


def _key(kind: str, place: Place, path: tuple[str, ...], required: bool) -> Iterator[TableKey]:
    key = path[-1]
    inside, row = _in_table(place, key), _in_row(place, key)
    yield TableKey(_written(path), _takes(kind, place, path), required)
    if _known(kind, row):
        yield from _keys_below(kind, row, (*path, ROW))
    elif _known(kind, inside):
        yield from _keys_below(kind, inside, path)
    elif _is_each(kind, inside):
        yield from _key(kind, inside, (*path, NAMED.get(key, "NAME")), False)


def _written(path: tuple[str, ...]) -> str:
    return ".".join(path).replace(f".{ROW}", ROW)


# The schema


def schema(kind: str) -> Schema:
    """Give the schema of a kind of file."""
    files, what = FILES[kind]
    head = {"$schema": "http://json-schema.org/draft-07/schema#", "title": f"{files}: {what}"}
    found = _table(kind, lambda value: value, ())
    if kind in _MODES:
        found["allOf"] = [*found.get("allOf", ()), *_by_mode(kind, *_MODES[kind])]
    return {**head, **found}


def _by_mode(kind: str, key: str, modes: Iterable[str], table: str) -> Iterator[Schema]:
    for mode in modes:
        node = _value(kind, lambda value, mode=mode: {key: mode, **value}, (table,))  # type: ignore[misc]
        yield {"if": _is(key, mode), "then": {"properties": {table: _checks_only(node)}}}


def _is(key: str, word: str) -> Schema:
    return {"properties": {key: {"const": word}}, "required": [key]}


def _checks_only(node: Any) -> Any:
    """Leave out of a schema what only explains."""
    if isinstance(node, dict):
        return {
            key: _checks_only(value) for key, value in node.items() if key != "description" or isinstance(value, dict)
        }
    return [_checks_only(item) for item in node] if isinstance(node, list) else node


def _table(kind: str, place: Place, path: tuple[str, ...]) -> Schema:
    """Give the schema of a table whose keys are known: each key, what must be there, what excludes what."""
    known = _known(kind, place)
    found: Schema = {
        "type": "object",
        "additionalProperties": False,
        "properties": {key: _value(kind, place, (*path, key)) for key in known},
    }
    samples = {key: _samples(kind, place, (*path, key)) for key in known}
    asked = AskedTable(kind, place, len(path), {key: some for key, some in samples.items() if some})
    required, rules = asked.needs({})
    for key, node in found["properties"].items():
        rules += [
            {"if": _is(key, word), "then": then}
            for word in (*node.get("enum", ()), *_OFFERED.get((*path, key), ()))
            if (then := asked.needs_more({key: word}, required))
        ]
    rules += [{"not": {"type": "object", "required": list(pair)}} for pair in asked.excluded()]
    if path and path[-1] != ROW and asked.empty_is_refused(path[-1]):
        found["minProperties"] = 1
    return {**found, **({"required": required} if required else {}), **({"allOf": rules} if rules else {})}


class AskedTable(NamedTuple):
    """What a table says of its keys together, each with some values that it takes."""

    kind: str
    place: Place
    depth: int
    samples: Mapping[str, tuple[Any, ...]]

    def needs(self, given: Mapping[str, Any]) -> tuple[list[str], list[Schema]]:
        """Give the keys that must be there, and rules where one of several must be."""
        required: list[str] = []
        rules: list[Schema] = []
        for key in sorted(_missing(self.kind, self.place, self.depth, given)):
            instead = [
                other
                for other, values in self.samples.items()
                if other != key
                and other not in given
                and key not in _missing(self.kind, self.place, self.depth, {**given, other: values[0]})
            ]
            if instead:
                rules.append({"anyOf": [{"required": [one]} for one in (key, *instead)]})
            else:
                required.append(key)
        return required, rules

    def needs_more(self, given: Mapping[str, Any], known: Iterable[str]) -> Schema:
        """Give what a word asks for beside it, nothing where it asks for no more than any does."""
        required, rules = self.needs(given)
        plain, loose = self.needs({})
        more = [key for key in required if key not in known and key not in plain]
        rest = [rule for rule in rules if rule not in loose]
        return {**({"required": more} if more else {}), **({"allOf": rest} if rest else {})}

    def excluded(self) -> Iterator[tuple[str, str]]:
        """Give the pairs of keys that are refused together whatever their values are."""
        for one, two in combinations(self.samples, 2):
            some = product(self.samples[one][:_MOST_SAMPLES], self.samples[two][:_MOST_SAMPLES])
            if all(self._clashes({one: first}, {two: second}) for first, second in some):
                yield one, two

    def _clashes(self, one: Mapping[str, Any], two: Mapping[str, Any]) -> bool:
        apart = {*self._told(one), *self._told(two)}
        return any(no not in apart for no in self._told({**one, **two}))

    def _told(self, given: Mapping[str, Any]) -> set[str]:
        refused = _refused(self.kind, self.place(dict(given)))
        return {no.message for no in refused.values() if no.rule != "missing-value"}

    def empty_is_refused(self, name: str) -> bool:
        """Say whether the table of a name must hold something, whatever it is."""
        refused = _refused(self.kind, self.place({}))
        return any(no.rule == "missing-value" and path[-1] == name for path, no in refused.items())


def _value(kind: str, place: Place, path: tuple[str, ...]) -> Schema:
    """Give the schema of what a key takes, of each type that it takes one of."""
    key = path[-1]
    takes = _takes(kind, place, path)
    inside, row = _in_table(place, key), _in_row(place, key)
    simple = _simple(kind, place, path)
    parts: list[Schema] = [simple] if simple else []
    if _known(kind, row):
        parts.append({"type": "array", "items": _table(kind, row, (*path, ROW))})
    if _known(kind, inside):
        parts.append(_table(kind, inside, path))
    elif not _known(kind, row) and _is_each(kind, inside):
        parts.append(_each(kind, inside, path))
    offered = {"anyOf": [{"enum": list(_OFFERED[path])}, {"pattern": r"\S"}]} if path in _OFFERED else {}
    return {"description": takes, **_merged(parts), **offered}


def _each(kind: str, inside: Place, path: tuple[str, ...]) -> Schema:
    name = NAMED.get(path[-1], "NAME")
    any_name = _value(kind, inside, (*path, name))
    simple = any_name.get("type") != "object"  # a measured value is written without keys, too
    own = {one: _value(kind, inside, (*path, one)) for one in _MEASURED if simple}
    narrower = {one: node for one, node in own.items() if _checks_only(node) != _checks_only(any_name)}
    return {
        "type": "object",
        "propertyNames": {"pattern": r"\S", "maxLength": 200},
        **({"properties": narrower} if narrower else {}),
        "additionalProperties": any_name,
    }


def _merged(parts: list[Schema]) -> Schema:
    """Make one schema of those of several types: each of its words is about one type only."""
    types: list[str] = []
    found: Schema = {}
    for part in parts:
        kinds = part.get("type", [])
        types += [one for one in ([kinds] if isinstance(kinds, str) else kinds) if one not in types]
        items = [node["items"] for node in (found, part) if "items" in node]
        found = {**found, **part}
        if len(items) > 1:
            found["items"] = _merged(items)
    if "enum" in found and types != ["string"]:
        found["pattern"] = _one_of(found.pop("enum"))
    return {**found, "type": types[0] if len(types) == 1 else types} if types else found


def _one_of(words: Iterable[str]) -> str:
    escaped = "|".join(_SPECIAL.sub(r"\\\g<0>", word) for word in words)
    return rf"^\s*(?:{escaped})\s*$"


def _taker(kind: str, place: Place, path: tuple[str, ...]) -> Callable[[Any], bool]:
    """Give what says whether a key takes a value, with or without what it may ask for beside it."""
    alone, beside = _alone(kind, place, path[-1], {}), _alone(kind, place, path[-1], _around(path))
    return lambda value: alone(value) or beside(value)


def _alone(kind: str, place: Place, key: str, beside: Mapping[str, Any]) -> Callable[[Any], bool]:
    before = {no.message for no in _refused(kind, place(dict(beside))).values()}

    def takes(value: Any) -> bool:
        after = _refused(kind, place({**beside, key: value})).values()
        return all(no.rule == "missing-value" or no.message in before for no in after)

    return takes


def _fixed(kind: str, place: Place, path: tuple[str, ...]) -> tuple[str, ...]:
    """Give the words that alone are taken, nothing where any text may be."""
    inside = _in_table(place, path[-1], _around(path))
    messages = (text for value in (STRANGE, [STRANGE]) for text in _own(kind, inside, path[-1], value))
    found = next((match[1] for text in messages if (match := _WORDS.search(text))), None)
    return tuple(found.split(", ")) if found else ()


def _samples(kind: str, place: Place, path: tuple[str, ...]) -> tuple[Any, ...]:
    """Give some values that a key takes by itself."""
    texts = (*_fixed(kind, place, path), *_TEXTS)
    tables: tuple[Any, ...] = (
        {},
        [{}],
        {"NAME": Decimal(1)},
        {"NAME": ["x"]},
        {"NAME": "80 %"},
        {"substances": ["Aqua"]},
    )
    some = (*texts, *_NUMBERS, True, _DAY, _MOMENT, *tables, *([text] for text in texts))
    return tuple(islice(filter(_alone(kind, place, path[-1], {}), some), _MOST_SAMPLES))


def _simple(kind: str, place: Place, path: tuple[str, ...]) -> Schema:
    """Give the schema of the values without keys that a key takes: texts, numbers, dates, true or false, lists."""
    takes, fixed = _taker(kind, place, path), _fixed(kind, place, path)
    parts: list[Schema] = []
    if any(map(takes, (*fixed, *_TEXTS))):
        text: Schema = {"enum": list(fixed)} if fixed else {} if takes("") else {"pattern": r"\S"}
        parts.append({"type": "string", **text})
    if any(map(takes, _NUMBERS)):
        parts.append(_number(takes))
    if takes(True):
        parts.append({"type": "boolean"})
    if takes(_DAY):
        parts.append({"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"})
    if takes(_MOMENT):
        parts.append({"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}"})
    if any(takes([word]) for word in (*fixed, *_TEXTS)):
        items = _items(takes, fixed)
        parts.append({"type": "array", "items": items, **({} if takes([]) else {"minItems": 1})})
    elif takes([]) and not _known(kind, _in_row(place, path[-1])):
        parts.append({"type": "array", "maxItems": 0})
    return _merged(parts)


def _items(takes: Callable[[Any], bool], fixed: tuple[str, ...]) -> Schema:
    if not fixed:
        return {"type": "string"} if takes([" "]) else {"type": "string", "pattern": r"\S"}
    if not takes([f" {fixed[0]} "]):
        return {"type": "string", "enum": list(fixed)}
    return {"type": "string", "anyOf": [{"enum": list(fixed)}, {"pattern": _one_of(fixed)}]}


def _number(takes: Callable[[Any], bool]) -> Schema:
    one, zero, half, two, hundred, more, negative = map(takes, _NUMBERS)
    found: Schema = {"type": "number"}
    if not negative:
        found |= {"minimum": 0} if zero else {"exclusiveMinimum": 0}
    if hundred and not more:
        found["maximum"] = 100
    elif one and not two:
        found["maximum"] = 1
    return found if half or not one else {**found, "multipleOf": 1}
