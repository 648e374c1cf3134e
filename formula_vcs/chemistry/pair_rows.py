"""Pairs out of the facts of a pack, one way for those that ship and those of the house; and the compiled ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

from formula_vcs.chemistry.tables import load
from formula_vcs.model.facts import Facts, Unread
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.law_row import DIMENSIONS, EVERYTHING, Scope
from formula_vcs.model.pair import Pair, Side
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.workspace import Workspace

# --- Pairs out of the facts of a pack, one way for those that ship and those of the house; and the compiled ones


Own = Mapping[tuple[str, ...], Any]


def rows_of(facts: Facts, file: str = "") -> Iterator[Pair]:
    """Give the pairs of a file; a row with anything that could not be read is left out (its finding stands).

    So is one that lacks what it needs: with some of the changes to it made, a row may.
    """
    by_row: dict[str, dict[tuple[str, ...], Any]] = {}
    for path, value in facts.items():
        if path[0] == "pair" and len(path) > 2:
            by_row.setdefault(path[1], {})[path[2:]] = value
    for name, own in by_row.items():
        whole = ("off",) in own or (any(path[0] == "one" for path in own) and ("what",) in own)
        if whole and not any(isinstance(value, Unread) for value in own.values()):
            yield _pair(name, own, file)


def _pair(name: str, own: Own, file: str) -> Pair:
    word, _, number = own.get(("pH",), "").partition(" ")
    hot = own.get(("hot",))
    return Pair(
        id=name,
        one=_side(own, "one") or Side(),
        other=_side(own, "other"),
        without=_side(own, "without"),
        together=own.get(("together",), "water"),
        emulsion=own.get(("emulsion",), ""),
        above_pH=Fraction(number) if word == "above" else None,
        below_pH=Fraction(number) if word == "below" else None,
        first=own.get(("first",), ""),
        hot=hot.base if isinstance(hot, Quantity) else None,
        hot_said=str(hot) if hot is not None else "",
        rough=own.get(("rough",), ""),
        what=own.get(("what",), ""),
        instead=own.get(("instead",), ""),
        severity=own.get(("severity",), "warn"),
        source=own.get(("source",), ""),
        checked=own.get(("checked",), "house" if file else ""),
        where=_scope(own, "where"),
        unless=_scope(own, "unless"),
        off=own.get(("off",), ""),
        file=file,
    )


def _side(own: Own, key: str) -> Side | None:
    if not any(path[0] == key for path in own):
        return None
    spelled = own.get((key, "substances"), ())
    above = own.get((key, "above"))
    return Side(
        tuple(map(inci_key, spelled)),
        own.get((key, "class"), ()),
        tuple(name.casefold() for name in own.get((key, "function"), ())),
        spelled,
        above.base * 100 if isinstance(above, Quantity) else Fraction(0),
    )


def _scope(own: Own, key: str) -> Scope:
    found = {path[1]: value for path, value in own.items() if len(path) == 2 and path[0] == key}
    return Scope(*(found.get(name, ()) for name in DIMENSIONS)) if found else EVERYTHING


@lru_cache(maxsize=1)
def shipped() -> tuple[Pair, ...]:
    """Give the pairs that ship."""
    return tuple(map(_from_data, load("pairs")["rows"]))


def _from_data(data: dict[str, Any]) -> Pair:
    fields = dict(data)
    for key in ("one", "other", "without"):
        if key in fields:
            substances, classes, functions, spelled, above = fields[key]
            fields[key] = Side(tuple(substances), tuple(classes), tuple(functions), tuple(spelled), Fraction(above))
    for key in ("above_pH", "below_pH", "hot"):
        if key in fields:
            fields[key] = Fraction(fields[key])
    for key in ("where", "unless"):
        if key in fields:
            fields[key] = Scope(*map(tuple, fields[key]))
    return Pair(**fields)


def as_data(pair: Pair) -> dict[str, Any]:
    """Give a pair as JSON can hold it, what has its default left out."""
    default = Pair("", Side())
    found: dict[str, Any] = {}
    for name in Pair.__slots__:
        value = getattr(pair, name)
        if name == "one" or value != getattr(default, name):
            found[name] = _plain(value)
    return found


def _plain(value: object) -> object:
    if isinstance(value, Side):
        return (value.substances, value.classes, value.functions, value.spelled, str(value.above))
    if isinstance(value, Scope) and not value.claim:
        return value[:-1]  # a pair that ships asks for no claim, one of a house may
    return str(value) if isinstance(value, Fraction) else value


# --- The pairs in force: those that ship, less what the house switched off, and the house's own


class Tagged(NamedTuple):
    """A pair, with the tags of its sides: what it is looked for by."""

    pair: Pair
    one: frozenset[str]
    other: frozenset[str]


def house_pairs(workspace: Workspace) -> tuple[Pair, ...]:
    """Give the rows of a workspace's own packs, those that switch one off too; worked out once a workspace."""
    return workspace.derived.cached("house pairs", lambda: tuple(_house_pairs(workspace)))


def _house_pairs(workspace: Workspace) -> Iterator[Pair]:
    by_file: dict[str, dict[tuple[str, ...], object]] = {}
    for path, value in workspace.facts.items():
        if path[0] == "rules" and path[2:3] == ("pair",):
            by_file.setdefault(path[1], {})[path[2:]] = value
    for name, facts in by_file.items():
        yield from rows_of(facts, f"rules/{name}.toml")


def in_force(workspace: Workspace) -> tuple[Tagged, ...]:
    """Give the pairs that a recipe of a workspace is judged by."""
    return workspace.derived.cached("pairs in force", lambda: tuple(_in_force(workspace)))


def _in_force(workspace: Workspace) -> Iterator[Tagged]:
    own = house_pairs(workspace)
    off = {pair.id for pair in own if pair.off}
    known = {pair.id for pair in shipped()}
    rows = [*shipped(), *(pair for pair in own if not pair.off and pair.id not in known)]
    yield from (_tagged(pair) for pair in rows if pair.id not in off)


def _tagged(pair: Pair) -> Tagged:
    return Tagged(pair, pair.one.tags, pair.other.tags if pair.other is not None else frozenset())
