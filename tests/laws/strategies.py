"""Strategies that build whole workspaces, write them as TOML in many layouts, and edit them.

A workspace is held as a *book*: ``{path: data}``, plain dicts as a TOML parser would give them.  ``written`` turns
it into texts; what the tests compare is what our own readers make of those.
"""

from __future__ import annotations

import copy
import datetime
import json
import random
import re
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.workspace.snapshot import Files, Snapshot

Book = dict[str, dict[str, Any]]
Draw = Callable[[st.SearchStrategy[Any]], Any]

RECIPE = "cream"
DAY = datetime.date(2026, 6, 1)

# Ingredients with what a label calls them: grades of one material share their main name.
MATERIALS: dict[str, dict[str, Decimal]] = {
    "water": {"Aqua": Decimal(100)},
    "glycerin": {"Glycerin": Decimal(100)},
    "glycerin-86": {"Glycerin": Decimal(86), "Aqua": Decimal(14)},
    "gum-clear": {"Xanthan Gum": Decimal(100)},
    "gum-dark": {"Xanthan Gum": Decimal(96), "Aqua": Decimal(4)},
    "silica-fine": {"Hydrated Silica": Decimal(100)},
    "silica-coarse": {"Hydrated Silica": Decimal(100)},
    "oil": {"Helianthus Annuus Seed Oil": Decimal("99.8"), "Tocopherol": Decimal("0.2")},
    "red": {"CI 77491": Decimal(100)},
    "acid": {"Citric Acid": Decimal(100)},
}
PREMIXES = ("acid-50", "gel", "slurry")  # each may hold the ones before it
CHARGEABLE = (*MATERIALS, *PREMIXES)
PHASES = ("A", "B", "C")
STEPS = ("wet", "tear", "melt", "join", "set-pH", "rest-1", "fill")
SHEAR = ("none", "fold", "low", "medium", "high")

amounts = st.integers(1, 4000).map(lambda cents: Decimal(cents).scaleb(-2))


# --- values


def prices(chance: random.Random) -> list[dict[str, Any]]:
    rows: dict[Any, dict[str, Any]] = {}
    for _ in range(chance.randrange(4)):
        row: dict[str, Any] = {"cost": f"{Decimal(chance.randrange(1, 3000)).scaleb(-2)} EUR/kg"}
        if chance.random() < 0.5:
            row["from"] = chance.choice(["5 kg", "25 kg", "0.2 t"])
        if chance.random() < 0.5:
            row["since"] = chance.choice([datetime.date(2025, 1, 1), datetime.date(2026, 2, 1)])
        rows[row.get("from"), row.get("since")] = row
    return list(rows.values())


def ingredient(name: str, chance: random.Random) -> dict[str, Any]:
    """Build an ingredient by a seed: there are many in a workspace, and hypothesis would spend its time on them."""
    data: dict[str, Any] = {"title": chance.choice([name.title(), f"{name} of the island"])}
    if chance.random() < 0.5:
        functions = ["humectant", "colorant", "gellant"]
        data["functions"] = chance.sample(functions, chance.randrange(4))
    if chance.random() < 0.5:
        data["density"] = chance.choice(["1 g/mL", "1.26 g/mL", "920 kg/m^3"])
    if name in PREMIXES:
        data["recipe"] = name
    else:
        data["substances"] = dict(MATERIALS[name])
        if chance.random() < 0.5:
            data["origin"] = {
                key: chance.choice([Decimal(0), Decimal(1), Decimal("0.5"), "18/104"])
                for key in ("natural", "natural_origin", "organic", "organic_origin")
            }
            if name == "water":
                data["origin"]["formulation_water"] = True
    if chance.random() < 0.5:
        limits = ["shear_at_most", "shear_at_least"]
        data["handling"] = {key: chance.choice(SHEAR) for key in chance.sample(limits, chance.randrange(3))}
    found = prices(chance)
    if found:
        data["price"] = found
    return data


@st.composite
def charge(draw: Draw, mode: str) -> Any:
    amount: Any = draw(amounts)
    if mode == "mass":
        amount = f"{amount} {draw(st.sampled_from(['g', 'g', 'kg', 'mL']))}"
    if draw(st.integers(0, 4)):
        return amount
    data: dict[str, Any] = {"pct" if mode == "percent" else "amount": amount}
    if draw(st.booleans()):
        data["for"] = "pH"
    if draw(st.booleans()):
        data["at_most"] = draw(amounts)
    if draw(st.booleans()):
        data["note"] = "slowly"
    return data


@st.composite
def phases(draw: Draw, mode: str, choices: tuple[str, ...], least: int = 1) -> dict[str, Any]:
    found: dict[str, Any] = {}
    names = draw(st.lists(st.sampled_from(PHASES), min_size=least, max_size=3, unique=True))
    for name in sorted(names):
        inside = draw(st.lists(st.sampled_from(choices), min_size=1, max_size=4, unique=True))
        found[name] = {"charge": {material: draw(charge(mode)) for material in inside}}
        if draw(st.booleans()):
            found[name]["title"] = f"Phase {name}"
    if draw(st.booleans()):
        first = found[next(iter(found))]["charge"]
        first[next(iter(first))] = "to 40 kg" if mode == "mass" else "to 100"
    return found


@st.composite
def step(draw: Draw, name: str, keys: tuple[str, ...]) -> dict[str, Any]:
    data: dict[str, Any] = {"id": name}
    if draw(st.integers(0, 3)):
        data["into"] = draw(st.sampled_from(["main", "main", "side"]))
    added = draw(st.lists(st.sampled_from([*PHASES, *keys]), max_size=2, unique=True))
    if added:
        share = draw(st.sampled_from([None, None, "80 %", "20 %"]))
        data["add"] = [{"what": what, "share": share} if share and "/" in what else what for what in added]
    if not draw(st.integers(0, 4)):
        data["from"] = draw(st.sampled_from(["side", ["side"], "main"]))
    if draw(st.booleans()):
        data["shear"] = draw(st.sampled_from(SHEAR))
    if draw(st.booleans()):
        data["speed"] = draw(st.sampled_from(["6000 rpm", "200 to 300 rpm"]))
    if draw(st.booleans()):
        data["time"] = draw(st.sampled_from(["8 min", "at most 0.5 h"]))
    if draw(st.booleans()):
        data["temp"] = draw(st.sampled_from(["20 to 25 degC", "at most 45 degC"]))
    if name == "set-pH":
        data |= {"measure": "pH", "accept": "4.8 to 5.4", "adjust": draw(st.lists(st.sampled_from(keys), max_size=1))}
    return data


@st.composite
def recipe(draw: Draw, choices: tuple[str, ...], *, premix: bool = False) -> dict[str, Any]:
    mode = draw(st.sampled_from(["percent", "percent", "percent", "parts", "mass"]))
    data: dict[str, Any] = {"title": draw(st.sampled_from(["Cream", "Gel"]))}
    if mode != "percent":
        data["amounts"] = mode
    if premix:
        data["product"] = "premix"
    else:
        optional: dict[str, st.SearchStrategy[Any]] = {
            "form": st.sampled_from(["emulsion", "paste"]),
            "markets": st.lists(st.sampled_from(["EU", "US", "JP"]), unique=True),
            "claims": st.lists(st.sampled_from(["natural at least 95 %", "cosmos-organic-4"]), unique=True),
            "pack": st.sampled_from(["75 mL", "50 g"]),
            "batch": st.sampled_from(["100 kg", "7.5 kg"]),
        }
        data |= {key: draw(value) for key, value in optional.items() if draw(st.booleans())}
        if draw(st.booleans()):
            data["spec"] = draw(
                st.fixed_dictionaries(
                    {},
                    optional={
                        "pH": st.sampled_from(["4.8 to 5.4", "5 to 6"]),
                        "viscosity": st.sampled_from(["18 to 28 Pa*s", "at least 9000 mPa*s"]),
                        "density": st.sampled_from(["0.98 to 1.02 g/mL", "1 g/mL"]),
                    },
                )
            )
        if draw(st.booleans()):
            data["accept"] = [
                {"rule": rule, "about": "glycerin", "why": "known", "until": datetime.date(2027, 6, 30)}
                for rule in draw(st.lists(st.sampled_from(["shear-at-most", "ph-step"]), unique=True))
            ]
    data["phase"] = draw(phases(mode, choices))
    keys = tuple(f"{phase}/{name}" for phase, inside in data["phase"].items() for name in inside["charge"])
    names = draw(st.lists(st.sampled_from(STEPS), max_size=5, unique=True))
    if names:
        data["step"] = [draw(step(name, keys)) for name in names]
    return data


@st.composite
def books(draw: Draw) -> Book:
    """Build a clean workspace: every key is known and every value can be read; rules may be broken all the same."""
    book: Book = {"workspace.toml": {"title": "Shed", "currency": "EUR"}}
    if draw(st.booleans()):
        book["workspace.toml"]["batch"] = "100 kg"
    chance = random.Random(draw(st.integers(0, 2**32)))
    for name in CHARGEABLE:
        book[f"ingredients/{name}.toml"] = ingredient(name, chance)
    for depth, name in enumerate(PREMIXES):
        book[f"{name}.toml"] = draw(recipe((*PREMIXES[:depth], *PREMIXES[:depth], *MATERIALS), premix=True))
    book[f"{RECIPE}.toml"] = draw(recipe(CHARGEABLE))
    return book


_ODD: tuple[Any, ...] = (
    True, 7, -3, Decimal("-0.5"), Decimal("NaN"), Decimal("1e40"), "", "nonsense", "8 min", "to 1000", "q.s.",
    "4.00 to 5.00", "80 %", "0.30 USD/kg", [], ["a", 1], {}, {"what": 3}, [{"x": 1}], datetime.date(2026, 1, 2),
    "\x1b[31m", "12 g", "to 100",
)  # fmt: skip


@st.composite
def broken_books(draw: Draw) -> Book:
    """Build a workspace with slips: values of a wrong kind, unknown keys, files that are gone or do not parse."""
    book: Book = draw(books())
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(sorted(book)))
        slip = draw(st.integers(0, 9))
        if slip == 0 and path != f"{RECIPE}.toml":
            del book[path]
            continue
        if slip == 1 and path != f"{RECIPE}.toml":
            book[path] = {"": "\x00 no TOML"}
            continue
        table = _some_table(draw, book[path])
        known = sorted(table)
        key = draw(st.sampled_from([*known, *known, "tilte", "step-order", "step", "a/b", "at_most", "recipe"]))
        table[key] = copy.deepcopy(draw(st.sampled_from(_ODD)))
    return book


def _some_table(draw: Draw, data: dict[str, Any]) -> dict[str, Any]:
    tables = [data]
    for table in tables:
        for value in table.values():
            tables += [value] if isinstance(value, dict) else []
            tables += [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []
    return tables[draw(st.integers(0, len(tables) - 1))]


@st.composite
def crossed(draw: Draw, source: st.SearchStrategy[Book]) -> tuple[Book, Book]:
    """Build two related workspaces: the second takes pieces of every size from a third."""
    old, other = draw(source), draw(source)
    new = copy.deepcopy(old)
    chance = random.Random(draw(st.integers(0, 10_000)))
    for path in dict.fromkeys((*old, *other)):
        if path not in new or path not in other:
            if chance.random() < 0.3 and path != f"{RECIPE}.toml":
                new[path] = copy.deepcopy(other.get(path, old.get(path, {})))
        elif chance.random() < 0.5:
            _cross(new[path], other[path], chance)
    return old, new


def _cross(new: dict[str, Any], other: dict[str, Any], chance: random.Random) -> None:
    for key in dict.fromkeys((*new, *other)):
        luck = chance.random()
        if luck < 0.4:
            continue
        here, there = new.get(key), other.get(key)
        if isinstance(here, dict) and isinstance(there, dict) and luck < 0.9:
            _cross(here, there, chance)
        elif isinstance(here, list) and isinstance(there, list) and key == "step" and luck < 0.9:
            new[key] = _mixed_steps([*here, *there], chance)
        elif key in other:
            new[key] = copy.deepcopy(there)
        else:
            del new[key]


def _mixed_steps(rows: list[Any], chance: random.Random) -> list[Any]:
    chance.shuffle(rows)
    found = {repr(row.get("id")) if isinstance(row, dict) else "": row for row in rows if chance.random() < 0.7}
    return copy.deepcopy(list(found.values()))


# --- edits: each makes one change, and says of what kind


class NotHere(Exception):
    """The workspace has nothing that such an edit could be made on."""


def _charges(data: dict[str, Any]) -> list[tuple[str, str]]:
    return [(phase, name) for phase, inside in data["phase"].items() for name in inside["charge"]]


def _pick(draw: Draw, choices: Iterable[Any]) -> Any:
    found = list(choices)
    if not found:
        raise NotHere
    return draw(st.sampled_from(found))


def _amount_of(value: Any) -> Any:
    return value.get("pct", value.get("amount")) if isinstance(value, dict) else value


def _fixed(data: dict[str, Any]) -> list[tuple[str, str]]:
    return [(p, n) for p, n in _charges(data) if isinstance(_amount_of(data["phase"][p]["charge"][n]), Decimal)]


def _set_amount(data: dict[str, Any], phase: str, name: str, amount: Any) -> None:
    inside = data["phase"][phase]["charge"]
    if isinstance(inside[name], dict):
        inside[name]["pct" if "pct" in inside[name] else "amount"] = amount
    else:
        inside[name] = amount


def _take(data: dict[str, Any], phase: str, name: str) -> Any:
    value = data["phase"][phase]["charge"].pop(name)
    if not data["phase"][phase]["charge"]:
        del data["phase"][phase]["charge"]
        if not data["phase"][phase]:
            del data["phase"][phase]
    return value


def _rename(data: dict[str, Any], old: str, new: str) -> None:
    for row in data.get("step", []):
        for key in ("add", "adjust"):
            items = row.get(key)
            if isinstance(items, list):
                row[key] = [
                    {**item, "what": new if item["what"] == old else item["what"]}
                    if isinstance(item, dict)
                    else new
                    if item == old
                    else item
                    for item in items
                ]


def _one_amount(draw: Draw, book: Book, file: str) -> None:
    data = book[file]
    phase, name = _pick(draw, _fixed(data))
    before = _amount_of(data["phase"][phase]["charge"][name])
    _set_amount(data, phase, name, draw(amounts.filter(lambda amount: amount != before)))


def amount(draw: Draw, book: Book) -> str:
    _one_amount(draw, book, f"{RECIPE}.toml")
    return "amount"


def bound(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    phase, name = _pick(draw, [c for c in _charges(data) if isinstance(data["phase"][c[0]]["charge"][c[1]], dict)])
    inside = data["phase"][phase]["charge"][name]
    inside["at_most"] = draw(amounts.filter(lambda value: value != inside.get("at_most")))
    return "amount"


def added(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    if data.get("amounts") == "mass":
        raise NotHere
    phase = _pick(draw, data["phase"])
    name = _pick(draw, [name for name in CHARGEABLE if name not in data["phase"][phase]["charge"]])
    data["phase"][phase]["charge"][name] = draw(amounts)
    return "added"


def removed(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    phase, name = _pick(draw, _charges(data))
    _take(data, phase, name)
    return "removed"


def moved(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    phase, name = _pick(draw, _charges(data))
    target = _pick(draw, [p for p in data["phase"] if name not in data["phase"][p]["charge"]])
    value = _take(data, phase, name)
    data["phase"][target]["charge"][name] = value
    _rename(data, f"{phase}/{name}", f"{target}/{name}")
    return "moved"


def grade_swap(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    grades = {"glycerin": "glycerin-86", "gum-clear": "gum-dark", "silica-fine": "silica-coarse"}
    grades |= {new: old for old, new in grades.items()}
    inside = data["phase"]
    phase, name = _pick(draw, [(p, n) for p, n in _charges(data) if grades.get(n, n) not in inside[p]["charge"]])
    other = grades[name]
    value = inside[phase]["charge"].pop(name)
    inside[phase]["charge"][other] = value
    _rename(data, f"{phase}/{name}", f"{phase}/{other}")
    return "grade-swap"


def _alone(data: dict[str, Any]) -> list[tuple[str, str]]:
    names = [name for _, name in _charges(data)]
    plain = [(p, n) for p, n in _fixed(data) if not isinstance(data["phase"][p]["charge"][n], dict)]
    return [(phase, name) for phase, name in plain if names.count(name) == 1]


def split(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    phase, name = _pick(draw, [(p, n) for p, n in _alone(data) if data["phase"][p]["charge"][n] > Decimal("0.01")])
    target = _pick(draw, [p for p in data["phase"] if p != phase])
    whole = data["phase"][phase]["charge"][name]
    part = Decimal(draw(st.integers(1, int(whole * 100) - 1))).scaleb(-2)
    data["phase"][phase]["charge"][name] = whole - part
    data["phase"][target]["charge"][name] = part
    return "split"


def joined(draw: Draw, book: Book) -> str:
    """Join two charges: the workspace is changed so that there are two, and the joined one comes back."""
    data = book[f"{RECIPE}.toml"]
    phase, name = _pick(draw, [(p, n) for p, n in _alone(data) if data["phase"][p]["charge"][n] > Decimal("0.01")])
    target = _pick(draw, [p for p in data["phase"] if p != phase])
    whole = data["phase"][phase]["charge"][name]
    after = copy.deepcopy(data)
    data["phase"][phase]["charge"][name] = Decimal("0.01")
    data["phase"][target]["charge"][name] = whole - Decimal("0.01")
    book["after"] = after
    return "joined"


def step_added(draw: Draw, book: Book) -> str:
    data = book[f"{RECIPE}.toml"]
    rows = data.setdefault("step", [])
    name = _pick(draw, [name for name in STEPS if name not in {row["id"] for row in rows}])
    rows.insert(draw(st.integers(0, len(rows))), {"id": name, "shear": "low", "time": "3 min"})
    return "step-added"


def step_removed(draw: Draw, book: Book) -> str:
    rows = book[f"{RECIPE}.toml"].get("step", [])
    rows.remove(_pick(draw, rows))
    return "step-removed"


def step_moved(draw: Draw, book: Book) -> str:
    rows = book[f"{RECIPE}.toml"].get("step", [])
    place = _pick(draw, range(len(rows)))
    target = _pick(draw, [index for index in range(len(rows)) if index != place])
    rows.insert(target, rows.pop(place))
    return "step-moved"


def step_changed(draw: Draw, book: Book) -> str:
    row = _pick(draw, book[f"{RECIPE}.toml"].get("step", []))
    values: Any
    facts = {"shear": SHEAR, "speed": ["9000 rpm", "1 rpm"], "time": ["1 h", "2 h"], "note": ["a", "b"]}
    key, values = _pick(draw, facts.items())
    row[key] = draw(st.sampled_from(values).filter(lambda value: value != row.get(key)))
    return "step-changed"


def spec(draw: Draw, book: Book) -> str:
    table = book[f"{RECIPE}.toml"].setdefault("spec", {})
    key = draw(st.sampled_from(["pH", "yield"]))
    if key in table and draw(st.booleans()):
        del table[key]
    else:
        table[key] = {"pH": "3.5 to 4.5", "yield": "at least 95 %"}[key]
    return "spec"


def claim(draw: Draw, book: Book) -> str:
    claims = book[f"{RECIPE}.toml"].setdefault("claims", [])
    claims.insert(draw(st.integers(0, len(claims))), "organic at least 20 %")
    return "claim"


def header(draw: Draw, book: Book) -> str:
    key, value = _pick(draw, [("title", "Balm"), ("pack", "12 mL"), ("batch", "3 kg"), ("product", "balm")])
    book[f"{RECIPE}.toml"][key] = value
    return "header"


def market(draw: Draw, book: Book) -> str:
    book[f"{RECIPE}.toml"].setdefault("markets", []).append("UK")
    return "header"


def default(draw: Draw, book: Book) -> str:
    key, value = _pick(draw, [("title", "Barn"), ("batch", "9 kg"), ("currency", "USD"), ("tolerance", "1 %")])
    book["workspace.toml"][key] = value
    return "header"


def _used(book: Book) -> list[str]:
    return sorted(formula(book).ingredients)


def price(draw: Draw, book: Book) -> str:
    data = book[f"ingredients/{_pick(draw, _used(book))}.toml"]
    rows = data.setdefault("price", [])
    rows.append({"cost": "99.99 EUR/kg", "since": datetime.date(2026, 5, 5)})
    return "price"


def origin(draw: Draw, book: Book) -> str:
    name = _pick(draw, [name for name in _used(book) if name in MATERIALS])
    table = book[f"ingredients/{name}.toml"].setdefault("origin", {})
    table[_pick(draw, ["natural", "organic_origin"])] = Decimal("0.123")
    return "ingredient"


def handling(draw: Draw, book: Book) -> str:
    table = book[f"ingredients/{_pick(draw, _used(book))}.toml"].setdefault("handling", {})
    table["shear_at_most"] = draw(st.sampled_from(SHEAR).filter(lambda mode: mode != table.get("shear_at_most")))
    return "ingredient"


def premix(draw: Draw, book: Book) -> str:
    _one_amount(draw, book, f"{_pick(draw, sorted(formula(book).premixes))}.toml")
    return "premix"


def accept(draw: Draw, book: Book) -> str:
    rows = book[f"{RECIPE}.toml"].setdefault("accept", [])
    rows.insert(draw(st.integers(0, len(rows))), {"rule": "shear-at-least", "why": "trial batch"})
    return "accept"


def unknown_key(draw: Draw, book: Book) -> str:
    place = draw(st.sampled_from(["top", "phase", "step"]))
    data = book[f"{RECIPE}.toml"]
    if place == "step":
        _pick(draw, data.get("step", []))["sheer"] = "high"
        return "step-changed"
    (data if place == "top" else data["phase"][_pick(draw, data["phase"])])["colour"] = "green"
    return "other"


EDITS: tuple[Callable[[Draw, Book], str], ...] = (
    amount, bound, added, removed, moved, grade_swap, split, joined, step_added, step_removed, step_moved,
    step_changed, spec, claim, header, market, default, price, origin, handling, premix, accept, unknown_key,
)  # fmt: skip


@st.composite
def edited(draw: Draw, edit: Callable[[Draw, Book], str]) -> tuple[Book, Book, str] | None:
    """Build a workspace, the same with one edit, and the kind of change that this is; None where it has no place."""
    old = draw(books())
    new = copy.deepcopy(old)
    try:
        kind = edit(draw, new)
    except NotHere:
        return None
    if "after" in new:
        old, new = new, {**new, f"{RECIPE}.toml": new["after"]}
        del old["after"], new["after"]
    return old, new, kind


@st.composite
def edited_often(draw: Draw, most: int = 5) -> tuple[Book, Book]:
    """Build a workspace and the same with a few edits of any kind."""
    old = draw(books())
    new = copy.deepcopy(old)
    for edit in draw(st.lists(st.sampled_from(EDITS), min_size=1, max_size=most)):
        if edit is joined:
            continue
        trial = copy.deepcopy(new)
        try:
            edit(draw, trial)
        except (NotHere, KeyError, ValueError):  # an edit before it left nothing to work on
            continue
        new = trial
    return old, new


# --- writing


def written(book: Book, seed: int | None = None) -> dict[str, str]:
    """Write a book as texts; a seed gives another layout, key order, comments and spelling of the same meaning."""
    chance = random.Random(seed) if seed is not None else None
    return {path: "broken = [\n" if "" in data else _file(data, chance) for path, data in book.items()}


_BARE = re.compile(r"[A-Za-z0-9_-]+")
_UNORDERED = ("markets", "claims", "functions", "packs", "price", "accept")


def _key(name: str, chance: random.Random | None) -> str:
    if _BARE.fullmatch(name) and (chance is None or chance.random() < 0.8):
        return name
    return json.dumps(name)


def _value(value: Any, chance: random.Random | None) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Decimal):
        return _number(value, chance)
    if isinstance(value, str):
        return _text(value, chance)
    if isinstance(value, list):
        gap = "\n  " if chance is not None and chance.random() < 0.3 else " "
        return "[" + ",".join(gap + _value(item, chance) for item in value) + "]"
    if isinstance(value, dict):
        pairs = _shuffled(list(value.items()), chance)
        return "{ " + ", ".join(f"{_key(k, chance)} = {_value(v, chance)}" for k, v in pairs) + " }"
    return str(value)


def _number(value: Decimal, chance: random.Random | None) -> str:
    if not value.is_finite():
        return "nan"
    text = f"{value:f}"
    if chance is None or chance.random() < 0.5:
        return text
    if "." in text:
        return chance.choice([text.rstrip("0").rstrip("."), text + "00"])
    return f"{text}.0"


def _text(value: str, chance: random.Random | None) -> str:
    plain = value.isprintable() and "'" not in value
    return f"'{value}'" if chance is not None and plain and chance.random() < 0.3 else json.dumps(value)


def _shuffled(items: list[Any], chance: random.Random | None) -> list[Any]:
    if chance is not None:
        chance.shuffle(items)
    return items


def _file(data: dict[str, Any], chance: random.Random | None) -> str:
    lines: list[str] = []
    _table((), data, lines, chance)
    ending = "\r\n" if chance is not None and chance.random() < 0.2 else "\n"
    return ending.join(lines) + ending


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def _table(path: tuple[str, ...], data: dict[str, Any], lines: list[str], chance: random.Random | None) -> None:
    inner = [
        (key, value)
        for key, value in data.items()
        if (not path and _is_rows(value)) or (isinstance(value, dict) and value and _tabled(path, key))
    ]
    names = {key for key, _ in inner}
    for key, value in _shuffled([(k, v) for k, v in data.items() if k not in names], chance):
        shown = value
        # a list that is refused stays as it was typed, in its order: only one of names is a set
        if chance is not None and key in _UNORDERED and isinstance(value, list) and _all_names(value):
            shown = _shuffled(list(value), chance)
        pad = " " * chance.randrange(4) if chance is not None else ""
        note = "   # so" if chance is not None and chance.random() < 0.2 else ""
        lines.append(f"{_key(key, chance)}{pad} = {_value(shown, chance)}{note}")
    for key, value in _shuffled(inner, chance):
        name = ".".join(_key(part, chance) for part in (*path, key))
        if chance is not None:
            lines += ["", "# a remark"][: chance.randrange(3)]
        if _is_rows(value):
            rows = _shuffled(list(value), chance) if key in _UNORDERED else value
            for row in rows:
                lines.append(f"[[{name}]]")
                _table((*path, key, ""), row, lines, chance)
            continue
        lines.append(f"[{name}]")
        _table((*path, key), value, lines, chance)


def _all_names(value: list[Any]) -> bool:
    return all(isinstance(item, str) for item in value)


def _tabled(path: tuple[str, ...], key: str) -> bool:
    """Say whether a table is written with a heading; the rest is inline."""
    if "" in path or path[:1] == ("substances",):
        return False
    if path[:1] == ("phase",):
        return len(path) < 2 or (len(path) == 2 and key == "charge")
    return len(path) < 3


def formula(book: Book, seed: int | None = None) -> Formula:
    """Read the recipe of a book with all that it rests on; one that does not parse is empty."""
    snapshot = Snapshot(Files(written(book, seed)))
    return snapshot.formula(snapshot.recipe(RECIPE) or Recipe(RECIPE, {}, f"{RECIPE}.toml"))
