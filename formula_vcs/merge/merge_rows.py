"""Facts of rows that a file only numbers, called by what they are: a price by day and quantity, a proof by its
kind.

``keyed`` takes the three versions of a file's facts to such names, ``numbered`` brings merged facts back.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from heapq import heapify, heappop, heappush
from itertools import combinations
from typing import Any, Final, TypeVar

from formula_vcs.diff.apply import moved
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.model.amount import Accepted, Price
from formula_vcs.model.facts import Facts, Path
from formula_vcs.toml.price_list import price_rank

# --- Merge two orders of the same things: each side's moves, where they do not contradict each other


Item = TypeVar("Item", bound=Hashable)


def merged_order(versions: ThreeWay[tuple[Item, ...]], keep: set[Item]) -> tuple[Item, ...] | None:
    """Put the things that stay into one order; None where the two sides contradict each other.

    What comes first of any two is what the side says that changed it.  Two things that no side has together stand in
    the order of their names, so that the result does not depend on which side is whose.
    """
    ours, base, theirs = (tuple(item for item in side if item in keep) for side in _sides(versions))
    if ours == theirs or (theirs == base and set(ours) == keep):
        return ours
    if ours == base and set(theirs) == keep:
        return theirs
    places = [{item: number for number, item in enumerate(side)} for side in (ours, base, theirs)]
    after: dict[Item, set[Item]] = {item: set() for item in keep}
    waits: dict[Item, int] = dict.fromkeys(keep, 0)
    for one, other in combinations(sorted(keep, key=str), 2):
        first = _first(places, one, other)
        if first is None:
            continue
        if first == 0:
            return None
        head, tail = (one, other) if first < 0 else (other, one)
        after[head].add(tail)
        waits[tail] += 1
    return _sorted(after, waits)


def _sides(versions: ThreeWay[tuple[Item, ...]]) -> Iterator[tuple[Item, ...]]:
    yield from (versions.ours, versions.base, versions.theirs)


def _first(places: list[dict[Item, int]], one: Item, other: Item) -> int | None:
    """Say which of two comes first: below 0 the one, above 0 the other, 0 a contradiction, None nobody says."""
    ours, base, theirs = (side[one] - side[other] if one in side and other in side else None for side in places)
    if ours is None or theirs is None:
        return theirs if ours is None else ours
    if (ours < 0) == (theirs < 0):
        return ours
    if base is None:
        return 0
    return ours if (theirs < 0) == (base < 0) else theirs


def _sorted(after: dict[Item, set[Item]], waits: dict[Item, int]) -> tuple[Item, ...] | None:
    ready = [(str(item), item) for item, count in waits.items() if not count]
    heapify(ready)
    found: list[Item] = []
    while ready:
        _, item = heappop(ready)
        found.append(item)
        for follower in after[item]:
            waits[follower] -= 1
            if not waits[follower]:
                heappush(ready, (str(follower), follower))
    return tuple(found) if len(found) == len(after) else None


def put(base: Sequence[str], side: Sequence[str]) -> set[str]:
    """Name what a side put somewhere: what it added, and what it moved."""
    return {*moved(base, side), *(set(side) - set(base))}


def same_gap(order: Sequence[str], ours: set[str], theirs: set[str]) -> Iterator[tuple[str, str]]:
    """The pairs that the two sides put beside each other, with nothing between that stayed where it was."""
    run: list[str] = []
    for item in (*order, None):
        if item is not None and (item in ours or item in theirs):
            run.append(item)
            continue
        yield from ((one, other) for one in run for other in run if one in ours - theirs and other in theirs - ours)
        run = []


def woven(order: Sequence[Item], guide: Sequence[Item], keep: set[Item]) -> tuple[Item, ...]:
    """An order with the things that only the guide knows put behind their nearest neighbour before them."""
    found = [item for item in order if item in keep]
    for number, item in enumerate(guide):
        if item in keep and item not in found:
            before = next((other for other in reversed(guide[:number]) if other in found), None)
            found.insert(0 if before is None else found.index(before) + 1, item)
    return (*found, *sorted(keep - set(found), key=str))


# --- Facts of rows that a file only numbers, called by what they are: a price by day and quantity, a proof by its
# kind


# The tables of rows of each kind of file ("*" is any name), and what tells their rows apart: the first that does.
_TABLES: Final[Mapping[str, Mapping[Path, tuple[tuple[str, ...], ...]]]] = {
    "ingredients": {("certificate",): (("scheme", "number"), ("scheme", "number", "valid_from", "valid_to"))},
    "workspace": {("rate",): (("of", "day"), ("of", "is", "day"))},
    "evidence": {
        ("proof",): (("kind", "report"), ("kind", "report", "market", "scheme"), ("kind", "report", "commit", "passed"))
    },
    "batches": {
        ("deviation",): (("about", "date"), ("about", "date", "why")),
        ("phase", "*", "charge", "*", "lots"): (("step", "lot"), ("step", "lot", "at")),
    },
}
PRICE: Final = "price"
ACCEPT: Final = "accept"
_DEEPEST: Final = max(len(table) for tables in _TABLES.values() for table in tables)

Orders = dict[Path, tuple[str, ...]]
Keyed = tuple[dict[Path, Any], Orders]


def keyed(kind: str, versions: ThreeWay[Facts]) -> ThreeWay[Keyed]:
    """Each version's facts with its rows called by what they are, and the order of the rows of each table."""
    sides = [dict(side) for side in (versions.ours, versions.base, versions.theirs)]
    orders: list[Orders] = [{}, {}, {}]
    for table in dict.fromkeys(table for side in sides for table in _tables(kind, side)):
        rows = [_rows(side, table) for side in sides]
        names = _names(rows, _known(kind, table) or ())
        for number, side in enumerate(sides):
            sides[number] = _renamed(side, table, names[number])
            orders[number][table] = tuple(names[number].values())
    ours, base, theirs = ((_opened(side), order) for side, order in zip(sides, orders, strict=True))
    return ThreeWay(ours, base, theirs)


def numbered(facts: Facts, orders: Orders, like: Facts) -> dict[Path, Any]:
    """Give merged facts as a file has them; ``like`` are the facts of ours, whose order they take."""
    found: dict[Path, Any] = {}
    for path, value in facts.items():
        table = next((path[:length] for length in range(1, _DEEPEST + 1) if path[:length] in orders), None)
        if table is not None and len(path) > len(table):
            place = orders[table].index(path[len(table)]) + 1
            found[*table, str(place), *path[len(table) + 1 :]] = value
        else:
            found[path] = value
    return _ordered(_closed(found), like)


def is_row(kind: str, path: Path) -> int:
    """Say how long the path of the row is that a fact stands in, 0 for none."""
    for length in range(1, min(len(path), _DEEPEST + 1)):
        if _known(kind, path[:length]) is not None:
            return length + 1
    return 0


def _tables(kind: str, facts: Facts) -> Iterator[Path]:
    for path in facts:
        length = is_row(kind, path)
        if length:
            yield path[: length - 1]


def _known(kind: str, table: Path) -> tuple[tuple[str, ...], ...] | None:
    for pattern, keys in _TABLES.get(kind, {}).items():
        if len(pattern) == len(table) and all(part in ("*", name) for part, name in zip(pattern, table, strict=True)):
            return keys
    return None


def _rows(facts: Facts, table: Path) -> dict[str, dict[Path, Any]]:
    rows: dict[str, dict[Path, Any]] = {}
    for path, value in facts.items():
        if path[: len(table)] == table and len(path) > len(table):
            rows.setdefault(path[len(table)], {})[path[len(table) + 1 :]] = value
    return rows


def _names(sides: list[dict[str, dict[Path, Any]]], keys: tuple[tuple[str, ...], ...]) -> list[dict[str, str]]:
    """Name the rows of the three versions by the first set of keys that tells them apart in each of them."""
    found: list[dict[str, str]] = []
    for chosen in keys:
        found = [{number: _name(row, chosen) for number, row in rows.items()} for rows in sides]
        if all(len(set(names.values())) == len(names) for names in found):
            return found
    for names in found:
        seen: dict[str, int] = {}
        for number, name in names.items():
            seen[name] = seen.get(name, 0) + 1
            names[number] = name if seen[name] == 1 else f"{name} #{seen[name]}"
    return found


def _name(row: Mapping[Path, Any], keys: tuple[str, ...]) -> str:
    return " ".join(str(row.get((key,), "-")) for key in keys)


def _renamed(facts: Facts, table: Path, names: Mapping[str, str]) -> dict[Path, Any]:
    length = len(table)
    return {
        (*table, names[path[length]], *path[length + 1 :]) if path[:length] == table and len(path) > length else path: v
        for path, v in facts.items()
    }


def _opened(facts: Facts) -> dict[Path, Any]:
    """Take prices and accepted findings apart into fields."""
    found: dict[Path, Any] = {}
    for path, value in facts.items():
        if path == (PRICE,) and isinstance(value, tuple):
            for price in value:
                name = (PRICE, "|".join(map(str, price_rank(price))))
                found[*name, "price"] = price
            if not value:  # none of the rows can be read
                found[PRICE, ""] = True
        elif isinstance(value, Accepted):
            found[*path, "why"] = value.why
            if value.until is not None:
                found[*path, "until"] = value.until
        else:
            found[path] = value
    return found


def _closed(facts: Facts) -> dict[Path, Any]:
    found: dict[Path, Any] = {}
    prices: list[Price] = []
    accepted: dict[Path, dict[str, Any]] = {}
    for path, value in facts.items():
        if path[0] == PRICE and isinstance(value, Price):
            prices.append(value)
        elif path[0] == ACCEPT and len(path) == 4:
            accepted.setdefault(path[:3], {})[path[3]] = value
        else:
            found[path] = value
    for path, row in accepted.items():
        found[path] = Accepted(row.get("why", ""), row.get("until"))
    none = found.pop((PRICE, ""), False)
    if prices or none:
        found[PRICE,] = tuple(sorted(prices, key=price_rank))
    return found


def _ordered(facts: Facts, like: Facts) -> dict[Path, Any]:
    """Give facts in the order of ours, each new one behind the last that shares most of its path."""
    order: dict[Path, Any] = {path: facts[path] for path in like if path in facts}
    for path in facts:
        order.setdefault(path, facts[path])
    return order
