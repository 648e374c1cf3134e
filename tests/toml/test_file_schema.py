"""The schemas say of keys and kinds of values what the readers say, over all files there are and many wrong ones."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from formula_vcs.model.facts import Unread
from formula_vcs.toml import syntax
from formula_vcs.toml.file_schema import FILES, schema
from formula_vcs.toml.readers import READERS
from formula_vcs.workspace.snapshot import kind_of
from tests.conftest import MINIMAL
from tests.hostile.corpus import CASES

ROOT = Path(__file__).resolve().parents[2]
# what is about keys and kinds of values, and not about what a text or a number says
STRUCTURE = frozenset(("wrong-type", "unknown-key", "missing-value"))
DATES = (datetime.date, datetime.datetime)


@cache
def _validator(kind: str) -> Draft7Validator:
    return Draft7Validator(schema(kind))


def _json(data: Any) -> Any:
    """Give data as an editor's schema checker sees it: dates are texts."""
    if isinstance(data, dict):
        return {key: _json(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_json(value) for value in data]
    if isinstance(data, DATES):
        return data.isoformat()
    return (
        float(data)
        if isinstance(data, Decimal) and data.is_finite()
        else str(data)
        if isinstance(data, Decimal)
        else data
    )


def _refused(kind: str, data: dict[str, Any]) -> list[Unread]:
    return [value for value in READERS[kind](data).values() if isinstance(value, Unread)]


def _agree(kind: str, data: dict[str, Any], about: str) -> None:
    refused = _refused(kind, data)
    wrong = [error.message for error in _validator(kind).iter_errors(_json(data))]
    if not refused:
        assert [] == wrong, about
    if any(no.rule in STRUCTURE for no in refused):
        assert [] != wrong, (about, [no.message for no in refused])


def _ours() -> Iterator[tuple[str, str, bytes]]:
    for folder in (ROOT / "recipes", ROOT / "formula_vcs" / "setup" / "demo_records"):
        for file in sorted(folder.rglob("*.toml")):
            path = file.relative_to(folder).as_posix()
            text = re.sub(r"@(?:commit|hash):[^@]+@", "0" * 64, file.read_text("utf-8"))  # as the demo fills them in
            yield kind_of(path), path, text.encode()
    for path, text in MINIMAL.items():
        yield kind_of(path), f"minimal {path}", text.encode()
    for name in ("numbers", "approvals"):
        chapter = (ROOT / "formula_vcs" / "manual" / f"{name}.md").read_text("utf-8")
        shown = re.findall(r"```toml\n# ((?:packaging|approvals)/\S+\.toml)\n(.*?)```", chapter, re.DOTALL)
        yield from ((kind_of(path), f"manual {path}", text.encode()) for path, text in shown)


def _theirs() -> Iterator[tuple[str, str, bytes]]:
    for name, case in CASES.items():
        for path, data in case().files.items():
            place = path if isinstance(path, str) else path.decode("utf-8", "replace")
            if place.endswith(".toml") and kind_of(place) in FILES:
                yield kind_of(place), f"{name}: {place}", data.encode() if isinstance(data, str) else data


def test_every_kind_of_file_has_a_schema() -> None:
    assert set(READERS) == set(FILES)


@pytest.mark.parametrize("kind", FILES)
def test_a_schema_is_one_of_the_draft_that_it_names(kind: str) -> None:
    Draft7Validator.check_schema(schema(kind))


@pytest.mark.parametrize("kind", FILES)
def test_what_the_readers_take_of_our_files_the_schemas_take(kind: str) -> None:
    taken = 0
    for one, path, data in _ours():
        if one == kind:
            parsed = syntax.parse(data)
            assert [] == _refused(kind, parsed.data), path
            _agree(kind, parsed.data, path)
            taken += 1
    assert taken > 0 or kind == "rules"


def test_of_files_that_mean_ill_the_schemas_say_what_the_readers_say() -> None:
    judged = 0
    for kind, path, data in _theirs():
        parsed = syntax.parse(data)
        if not parsed.errors:
            _agree(kind, parsed.data, path)
            judged += 1
    assert judged > 50


WRONG: tuple[Any, ...] = (
    True,
    Decimal("0.5"),
    3,
    "x",
    "",
    datetime.date(2026, 1, 5),
    [],
    ["x"],
    [1],
    {},
    {"x": 1},
    [{}],
)
RULES = """
title = "House"
[group]
these = ["Phenoxyethanol"]
[[rule]]
id = "a"
kind = "limit"
substances = "Phenoxyethanol"
at_most = "0.8 %"
source = "ours"
where = { type = "hand cream" }
placed = { from = 2026-01-05 }
[[pair]]
id = "b"
one = { class = "anionic" }
other = { substances = ["Cetrimonium Chloride"] }
what = "they fall out"
source = "common practice"
[[pair]]
id = "c"
off = "not here"
"""


def _places(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    for key, value in data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ():
        yield from _places(value, (*path, key))


def _changed(data: Any, path: tuple[Any, ...], change: Any) -> Any:
    """Give a copy with one place changed: ``change`` takes the table or list that holds it, and its key."""
    copy = dict(data) if isinstance(data, dict) else list(data)
    if len(path) == 1:
        change(copy, path[0])
    else:
        copy[path[0]] = _changed(data[path[0]], path[1:], change)
    return copy


def _replaced(value: Any) -> Any:
    return lambda held, key: held.__setitem__(key, value)


def _renamed(held: Any, key: Any) -> None:
    if isinstance(held, dict):
        held[f"{key}zzzz"] = held.pop(key)


def _of_date_or_text(old: Any, new: Any) -> bool:
    """Say whether a text stands for a date or the other way round, which no schema can see."""
    return (isinstance(old, DATES) and isinstance(new, str)) or (
        isinstance(new, DATES) and isinstance(old, str | list | dict)
    )


def _at(data: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        data = data[key]
    return data


SAMPLES = {
    "workspace": ["workspace.toml"],
    "recipe": ["hand-cream.toml", "face-polish.toml"],
    "ingredients": ["ingredients/kelp-gum.toml", "ingredients/water.toml"],
    "equipment": ["equipment/anchor-vessel.toml", "equipment/bench-rotor-stator.toml"],
    "lots": ["lots/citric-acid-ci-940.toml"],
    "batches": ["batches/hc-041.toml"],
    "evidence": ["evidence/hand-cream.toml"],
}


@pytest.mark.parametrize("kind", FILES)
def test_a_file_with_one_thing_wrong_is_judged_as_its_reader_judges_it(kind: str) -> None:
    """Each place of a sound file gets a value of each kind, goes, or gets another name."""
    texts = {path: data for one, path, data in _ours() if one == kind}
    sounds = [syntax.parse(texts[path]).data for path in SAMPLES.get(kind, ())] or [syntax.parse(RULES.encode()).data]
    tried = 0
    for data in sounds:
        for path in _places(data):
            changes = [(value, _replaced(value)) for value in WRONG]
            changes += [("gone", lambda held, key: held.pop(key)), ("renamed", _renamed)]
            for value, change in changes:
                if not _of_date_or_text(_at(data, path), value):
                    _agree(kind, _changed(data, path, change), f"{path}: {value!r}")
                    tried += 1
    assert tried > 90


PROOF = """
recipe = "x"
[[proof]]
kind = "{}"
commit = "abcdef0"
hash = "0"
report = "1"
passed = 2026-01-05
"""
BATCH = """
recipe = "x"
commit = "abcdef0"
hash = "0"
size = "1 kg"
date = 2026-01-05
{}
"""
MASS = 'title = "x"\namounts = "mass"\n[phase.A.charge]\nwater = {}\n'


@pytest.mark.parametrize(
    ("kind", "text", "taken"),
    [
        ("recipe", MASS.format('"12 g"'), True),
        ("recipe", MASS.format("12"), False),
        ("recipe", MASS.format('{ amount = "12 g" }'), True),
        ("recipe", MASS.format("{ amount = 12 }"), False),
        ("recipe", MASS.replace("mass", "parts").format("12"), True),
        ("recipe", MASS.replace("mass", "percent").format("{ pct = 12, amount = 12 }"), False),
        ("recipe", MASS.replace("mass", "percent").format("-1"), False),
        ("ingredients", 'title = "x"\n[substances]\n"Aqua" = 100\n', True),
        ("ingredients", 'title = "x"\n[substances]\n"Aqua" = 100.1\n', False),
        ("ingredients", 'title = "x"\nrecipe = "y"\n[substances]\n"Aqua" = 100\n', False),
        ("ingredients", 'title = "x"\nrecipe = "y"\n', True),
        ("ingredients", 'title = "x"\n', False),
        ("evidence", PROOF.format("stability"), True),
        ("evidence", PROOF.format("certificate"), False),
        ("batches", BATCH.format("packs = 2"), True),
        ("batches", BATCH.format("packs = 1.5"), False),
    ],
)  # fmt: skip
def test_what_hangs_on_another_key_is_in_the_schema(kind: str, text: str, taken: bool) -> None:
    assert taken is _validator(kind).is_valid(_json(syntax.parse(text.encode()).data))


def test_a_schema_says_what_is_wanted_where_the_pointer_rests() -> None:
    found = json.loads(json.dumps(schema("recipe")))

    assert (
        "one of emulsion, aqueous, anhydrous, surfactant, powder, paste, bar"
        == found["properties"]["form"]["description"]
    )
