"""The pairs in force: those that ship, less what the house switched off, and the house's own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from formula_vcs.chemistry.pair_rows import rows_of, shipped
from formula_vcs.model.pair import Pair
from formula_vcs.model.workspace import Workspace


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
