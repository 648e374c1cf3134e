"""The pairs in force: those that ship, less what the house switched off, and the house's own."""

from __future__ import annotations

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
    if "pairs" not in workspace.memo:
        by_file: dict[str, dict[tuple[str, ...], object]] = {}
        for path, value in workspace.facts.items():
            if path[0] == "rules" and path[2:3] == ("pair",):
                by_file.setdefault(path[1], {})[path[2:]] = value
        workspace.memo["pairs"] = tuple(
            pair for name, facts in by_file.items() for pair in rows_of(facts, f"rules/{name}.toml")
        )
    found: tuple[Pair, ...] = workspace.memo["pairs"]
    return found


def in_force(workspace: Workspace) -> tuple[Tagged, ...]:
    """Give the pairs that a recipe of a workspace is judged by."""
    if "pairs in force" not in workspace.memo:
        own = house_pairs(workspace)
        off = {pair.id for pair in own if pair.off}
        known = {pair.id for pair in shipped()}
        rows = [*shipped(), *(pair for pair in own if not pair.off and pair.id not in known)]
        workspace.memo["pairs in force"] = tuple(_tagged(pair) for pair in rows if pair.id not in off)
    found: tuple[Tagged, ...] = workspace.memo["pairs in force"]
    return found


def _tagged(pair: Pair) -> Tagged:
    return Tagged(pair, pair.one.tags, pair.other.tags if pair.other is not None else frozenset())
