"""Changes of ingredient data and of the workspace's defaults, under a recipe that was not touched."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.diff.change import GONE, Change, Put, Whole
from formula_vcs.diff.change_words import ARROW, from_to, plain
from formula_vcs.diff.free_data import describe
from formula_vcs.model.amount import Price
from formula_vcs.model.approval import approval_rows
from formula_vcs.model.facts import Facts, Path, Unread, spelled
from formula_vcs.model.ingredient import ORIGIN_INDICES, Ingredient
from formula_vcs.model.rate import Rate
from formula_vcs.model.values import replace
from formula_vcs.model.workspace import Workspace
from formula_vcs.words.numbers import signed

# of a house rule, a pair that does not go together, a row of its table of duties or a kind of evidence, among the
# workspace's facts: the file's name, and then its id
ROWS: Final = ("rule", "pair", "duty", "kind")
_ROW_SIZE: Final = 4


def ingredient_changes(old: Ingredient, new: Ingredient) -> list[Change]:
    """Give one change a fact; the price list is one fact."""
    owner = f"ingredient:{old.id}"
    if not (old.readable and new.readable) and old.readable != new.readable:
        words = f"'{old.id}': its file {'does not parse any more' if old.readable else 'parses again'}"
        return [Change("ingredient", f"ingredient/{old.id}", None, None, words, (Whole(owner, new),))]
    return [_fact(owner, old.id, path, was, now) for path, was, now in differing(old.facts, new.facts)]


def workspace_changes(old: Workspace, new: Workspace) -> list[Change]:
    """Give one change a default that recipes rest on, or a fact of a house rule; a rule that came or went is one."""
    found = differing(old.facts, new.facts)
    rated = [fact for fact in found if fact[0][0] == "rate"]
    if any(isinstance(value, Unread) for _, *values in rated for value in values):
        rated = []  # each by itself, with what stands there
    asked = [fact for fact in found if fact[0][0] == "approval"]
    if any(isinstance(value, Unread) for _, *values in asked for value in values):
        asked = []
    found = [fact for fact in found if fact not in rated and fact not in asked]
    rows = {path: came for kind in ROWS for path, came in whole_rows(old.facts, new.facts, ("rules", "", kind)).items()}
    changes = [
        _rule(path, was, now) if path[0] == "rules" else _fact("workspace", "workspace", path, was, now)
        for path, was, now in found
        if path[:_ROW_SIZE] not in rows
    ]
    parts: dict[Path, dict[Path, tuple[Any, Any]]] = {row: {} for row in rows}
    for path, was, now in found:
        if path[:_ROW_SIZE] in parts:
            parts[path[:_ROW_SIZE]][path] = (was, now)
    changes += [_whole_rule(row, parts[row], came=came) for row, came in rows.items()]
    changes += [_approval_change(old, new, asked)] if asked else []
    return [*changes, _rate_change(old, new, rated)] if rated else changes


def _approval_change(old: Workspace, new: Workspace, facts: list[tuple[Path, Any, Any]]) -> Change:
    """Give the change of what needs approvals as one: a row that came in front of others only renumbers them."""
    sides = ["; ".join(map(str, approval_rows(side.facts))) or None for side in (old, new)]
    edits = tuple(Put("workspace", path, now) for path, _, now in facts)
    words = f"{sides[0] or 'nothing'} {ARROW} {sides[1] or 'nothing'}" if sides[0] != sides[1] else "note or order"
    return Change("header", "workspace/approval", sides[0], sides[1], f"what needs approval: {words}", edits)


def _rate_change(old: Workspace, new: Workspace, facts: list[tuple[Path, Any, Any]]) -> Change:
    """Give the change of the rates of exchange as one: a row that came in front of others only renumbers them."""
    went = [rate for rate in old.rates if rate not in new.rates]
    came = [rate for rate in new.rates if rate not in old.rates]
    parts: list[str] = []
    for rate in came:
        same = [one for one in old.rates if (one.of, one.worth.currency) == (rate.of, rate.worth.currency)]
        before = max((one for one in same if one.day <= rate.day), key=lambda one: one.day, default=None)
        parts.append(_moved_rate(before, rate))
        went = [one for one in went if one is not before]
    parts += [f"\u2212 {rate}" for rate in went]
    edits = tuple(Put("workspace", path, now) for path, _, now in facts)
    stated = ["; ".join(map(str, side.rates)) or None for side in (old, new)]
    words = "; ".join(parts) or "source, note or order"
    return Change("price", "workspace/rate", stated[0], stated[1], f"workspace, rate: {words}", edits)


def _moved_rate(old: Rate | None, new: Rate) -> str:
    """Say a rate that came: ``1 USD = 0.862 → 0.871 EUR (+1.0 %) from 2026-06-01``."""
    if old is None:
        return f"+ {new}"
    by = signed((new.worth.base / old.worth.base - 1) * 100, 1, 1)
    when = f"on {new.day}" if old.day == new.day else f"from {new.day}"
    return f"1 {new.of} = {old.worth.value:f} {ARROW} {new.worth} ({by} %) {when}"


def whole_rows(old: Facts, new: Facts, row: Path) -> dict[Path, bool]:
    """Give the rows of house rules that stand on one side only, and whether they came; ``row`` is their path's form.

    A part of a rule means nothing, so such a row is one change.
    """
    here, there = (
        dict.fromkeys(
            path[: len(row) + 1]
            for path in facts
            if len(path) > len(row) + 1 and all(part in ("", own) for part, own in zip(row, path, strict=False))
        )
        for facts in (old, new)
    )
    return {path: path in there for path in (*here, *there) if (path in here) != (path in there)}


def rule_words(facts: Facts, row: Path, *, came: bool) -> str:
    """Say a house rule that came or went, with what it states."""
    stated = "; ".join(
        f"{' '.join(path[len(row) :]).replace('_', ' ')} {plain(value)}"
        for path, value in facts.items()
        if path[: len(row)] == row and len(path) > len(row)
    )
    return f"house {row[-2]} {row[-1]}: {'new' if came else 'removed'} ({stated})"


def _whole_rule(row: Path, parts: Mapping[Path, tuple[Any, Any]], *, came: bool) -> Change:
    """Give the change of a house rule that came or went as a whole."""
    own = {path: now if came else was for path, (was, now) in parts.items()}
    edits = tuple(Put("workspace", path, value if came else GONE) for path, value in own.items())
    text = rule_words(own, row, came=came)
    before, after = (None, row[-1]) if came else (row[-1], None)
    return Change("other", f"rule/{spelled(row[1:])}", before, after, text, edits)


def _rule(path: Path, was: Any, now: Any) -> Change:
    """Give the change of one fact of a house rule; its place is the one in its own file."""
    found = _fact("workspace", "workspace", path, was, now)
    row = path[3] if len(path) > 3 else path[1]
    words = " ".join(path[4:] or path[2:]).replace("_", " ")
    old, new = (None if value is GONE else value for value in (was, now))
    text = f"house {path[2] if path[2] in ROWS else 'rule'} {row}, {describe((words,), old, new)}"
    return replace(found, kind="other", where=f"rule/{spelled(path[1:])}", text=text)


def differing(old: Facts, new: Facts) -> list[tuple[Path, Any, Any]]:
    """Give the facts that differ, GONE where one side has none."""
    if old == new:
        return []
    return [
        (path, old.get(path, GONE), new.get(path, GONE))
        for path in dict.fromkeys((*old, *new))
        if old.get(path, GONE) != new.get(path, GONE)
    ]


def _fact(owner: str, name: str, path: Path, was: Any, now: Any) -> Change:
    old, new = (None if value is GONE else value for value in (was, now))
    where = f"{owner.replace(':', '/')}/{spelled(path)}"
    edits = (Put(owner, path, now),)
    before, after = (None if value is None else plain(value) for value in (old, new))
    kind = "header" if owner == "workspace" else "ingredient"
    unread = isinstance(old, Unread) or isinstance(new, Unread)
    if path == ("price",) and not unread:
        return Change("price", where, before, after, f"{name}, price: {price_words(old or (), new or ())}", edits)
    if unread or isinstance(old, dict | list):
        return Change(kind, where, before, after, f"{name}, {describe(path, old, new)}", edits)
    label = f"{path[-1]} index" if path[0] == "origin" and path[-1] in ORIGIN_INDICES else " ".join(path)
    label = label.replace("_", " ")
    return Change(kind, where, before, after, f"{name}, {label}: {from_to(old, new)}", edits)


def price_words(old: tuple[Price, ...], new: tuple[Price, ...]) -> str:
    """Say a price list by what differs: the same quantity and day at another price, new lines, lines that went."""
    was, now = frozenset(old), frozenset(new)
    went = [price for price in old if price not in now]
    came = [price for price in new if price not in was]
    if len(went) == len(came) == 1 and (went[0].least, went[0].since) != (came[0].least, came[0].since):
        return f"{went[0]} {ARROW} {came[0]}{_by(went[0], came[0])}"
    parts: list[str] = []
    if not went:
        earlier = _latest(old)
        replaced = {price: before for price in came if (before := _replaced(price, earlier)) is not None}
        parts += [_moved(before, price) for price, before in replaced.items()]
        came = [price for price in came if price not in replaced]
    gone = {(price.least, price.since): price for price in went}
    moved = {price: gone[price.least, price.since] for price in came if (price.least, price.since) in gone}
    parts += [_moved(before, price) for price, before in moved.items()]
    left = frozenset(moved.values())
    parts += [f"+ {price}" for price in came if price not in moved]
    return "; ".join(parts + [f"\u2212 {price}" for price in went if price not in left])


def _latest(prices: tuple[Price, ...]) -> dict[object, Price]:
    """Give the price of each quantity that is in force last."""
    return {price.least: price for price in sorted(prices, key=_begins)}


def _begins(price: Price) -> datetime.date:
    return price.since if isinstance(price.since, datetime.date) else datetime.date.min


def _replaced(price: Price, latest: dict[object, Price]) -> Price | None:
    """Give the price that was in force for the quantity when a new one begins; None where it begins no later."""
    before = latest.get(price.least)
    if before is None or not isinstance(price.since, datetime.date):
        return None
    return before if _begins(before) < price.since else None


def _moved(old: Price, new: Price) -> str:
    """Say a price that takes the place of another: ``7.20 → 6.85 EUR/kg (−4.9 %) from 2026-06-01``."""
    was = f"{old.cost.value:f}" if old.cost.unit == new.cost.unit else str(old.cost)
    return f"{was} {ARROW} {new.cost}{_by(old, new)}{_conditions(new)}"


def _by(old: Price, new: Price) -> str:
    """Say a price's move in % of the old one; nothing where the two are not comparable."""
    if not old.cost.comparable(new.cost) or not old.cost.base or old.cost.base == new.cost.base:
        return ""
    return f" ({signed((new.cost.base / old.cost.base - 1) * 100, 1, 1)} %)"


def _conditions(price: Price) -> str:
    """Say from when and from which quantity on a price holds."""
    since = f" from {price.since}" if price.since is not None else ""
    return f"{since}{f', {price.least} and more' if price.least is not None else ''}"
