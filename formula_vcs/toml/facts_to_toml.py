"""Facts back to the data of a file: what a TOML parser must give so that the file reads as some target facts.

Nothing is spelled anew that stands somewhere already: data come from the file itself where its facts are the wanted
ones, else from the donor, another version of the file, and only then from the values of the facts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, Final

from formula_vcs.model.amount import Accepted, Addition, Amount, BookTotal, PartSpan, Price
from formula_vcs.model.facts import Facts, Path, Unread, stated
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass
from formula_vcs.toml.price_list import row_of
from formula_vcs.toml.readers import facts_of
from formula_vcs.words.numbers import exact_text

_ABSENT: Final = object()
# The keys of a table that hold the value itself, which may stand without the table where nothing is beside it.
_VALUE_KEYS: Final = ("pct", "amount", "is", "words", "conforms")
_LINES: Final = ("spec", "result")


class CannotWrite(ValueError):
    """Facts that cannot be written into a text; nothing was written."""


@dataclass(frozen=True)
class FileVersion:
    """One version of a file: its data and its facts."""

    kind: str
    data: dict[str, Any]

    @cached_property
    def facts(self) -> Facts:
        """Give the facts that the data state."""
        return stated(facts_of(self.kind, self.data))

    @cached_property
    def below(self) -> Mapping[Path, Mapping[Path, Any]]:
        """Give for each beginning of a path the facts that begin so, the path itself included."""
        return grouped(self.facts)


def grouped(facts: Facts) -> Mapping[Path, Mapping[Path, Any]]:
    """Give for each beginning of a path the facts that begin so."""
    found: dict[Path, dict[Path, Any]] = defaultdict(dict)
    for path, value in facts.items():
        for length in range(1, len(path) + 1):
            found[path[:length]][path] = value
    return found


def data_for(target: Facts, own: FileVersion, donor: FileVersion | None) -> dict[str, Any]:
    """Give the data of a file that reads as the target, as near to the file's own as can be.

    Raises `CannotWrite` where no data were found that read so.
    """
    target = stated(target)
    data = _Builder(target, own, donor).table((), own.data, {} if donor is None else donor.data)
    if stated(facts_of(own.kind, data)) != target:
        raise CannotWrite("no content of this file was found that means this")
    return data


class _Builder:
    def __init__(self, target: Facts, own: FileVersion, donor: FileVersion | None) -> None:
        self._target = target
        self._wanted = grouped(target)
        self._own = own
        self._donor = donor

    def table(self, prefix: Path, own: Any, donor: Any) -> dict[str, Any]:
        """Build a table key by key; keys that come stand behind those that were there."""
        depth = len(prefix)
        wanted = self._wanted.get(prefix, {}) if prefix else self._target
        names = [path[depth] for path in wanted if len(path) > depth]
        sides = [side if isinstance(side, dict) else {} for side in (own, donor)]
        found: dict[str, Any] = {}
        for key in dict.fromkeys((*sides[0], *sides[1], *names)):
            value = self._node((*prefix, key), sides[0].get(key, _ABSENT), sides[1].get(key, _ABSENT))
            if value is not _ABSENT:
                found[key] = value
        return found

    def _node(self, prefix: Path, own: Any, donor: Any) -> Any:
        wanted = self._wanted.get(prefix, {})
        if wanted == self._own.below.get(prefix, {}):
            return own  # also what means nothing, as an empty list
        if self._donor is not None and wanted == self._donor.below.get(prefix, {}):
            return donor
        if not wanted:
            return _ABSENT
        if len(prefix) == 1 and _is_rows(own, donor):
            return self._rows(prefix[0], *([] if side is _ABSENT else side for side in (own, donor)))
        if len(prefix) > 1 and _is_rows(own, donor) and prefix not in wanted:
            return self._portions(prefix, *([] if side is _ABSENT else side for side in (own, donor)))
        if prefix in wanted:
            return self._value(prefix, wanted, own, donor)
        if _is_members(own) or _is_members(donor):
            return _members(wanted, own, donor)
        return self.table(prefix, own, donor)

    def _value(self, prefix: Path, wanted: Mapping[Path, Any], own: Any, donor: Any) -> Any:
        """Build one value, which can have facts below it: a charge with a note, a substance with its number."""
        moved = self._elsewhere(prefix, wanted)
        if moved is not _ABSENT:
            return moved
        amount = self._amount(prefix, own, donor)
        if len(wanted) == 1:
            return amount
        sides = [side if isinstance(side, dict) else {} for side in (own, donor)]
        names = [path[len(prefix)] for path in wanted if len(path) > len(prefix)]
        known = [key for key in (*sides[0], *sides[1]) if key in _VALUE_KEYS]
        key = known[0] if known and prefix[0] not in _LINES else _value_key(prefix, wanted[prefix])
        found = {key: amount}
        for name in dict.fromkeys((*sides[0], *sides[1], *names)):
            value = self._node((*prefix, name), sides[0].get(name, _ABSENT), sides[1].get(name, _ABSENT))
            if value is not _ABSENT and name not in _VALUE_KEYS:
                found[name] = value
        return found

    def _amount(self, prefix: Path, own: Any, donor: Any) -> Any:
        for version, node in ((self._own, own), (self._donor, donor)):
            if version is not None and node is not _ABSENT and version.facts.get(prefix) == self._target[prefix]:
                if not isinstance(node, dict):
                    return node
                return next((node[key] for key in _VALUE_KEYS if key in node), toml_of(self._target[prefix]))
        return toml_of(self._target[prefix])

    def _elsewhere(self, prefix: Path, wanted: Mapping[Path, Any]) -> Any:
        """Find a charge that only moved: the same name with the same facts in another phase."""
        if prefix[0] != "phase" or len(prefix) != 4:
            return _ABSENT
        tails = {path[4:]: value for path, value in wanted.items()}
        for version in (self._own, self._donor):
            for phase in version.data.get("phase", {}) if version is not None else ():
                place = ("phase", phase, "charge", prefix[3])
                there = version.below.get(place, {}) if version is not None else {}
                if version is not None and tails == {path[4:]: value for path, value in there.items()}:
                    return version.data["phase"][phase]["charge"][prefix[3]]
        return _ABSENT

    # arrays of tables

    def _rows(self, key: str, own: list[Any], donor: list[Any]) -> list[Any]:
        if (key,) in self._wanted[key,] and isinstance(self._target[key,], tuple):
            return self._prices(own, donor)
        if any(isinstance(value, Accepted) for value in self._wanted[key,].values()):
            return self._accepted(own, donor)
        return self._named_rows(key, own, donor)

    def _named_rows(self, key: str, own: list[Any], donor: list[Any]) -> list[Any]:
        """Build rows that have names: an id, or their number."""
        here = _by_name(key, self._own.facts, own)
        there = {} if self._donor is None else _by_name(key, self._donor.facts, donor)
        order = _names(key, self._target)
        if (key, "") not in self._target and not all(name.isdigit() for name in order):
            order = _woven([name for name in here if name in order], [name for name in there if name in order], order)
        identified = any("id" in row for row in (*own, *donor)) or (key, "") in self._target
        rows = []
        for name in order:
            sides = here.get(name, _ABSENT), there.get(name, _ABSENT)
            row = self._node((key, name), *sides)
            row = {} if row is _ABSENT else row  # a row of nothing but its id has no facts
            for side in sides:
                if "id" not in row and side is not _ABSENT and "id" in side:
                    row = {"id": side["id"], **row}
            rows.append({"id": name, **row} if identified and "id" not in row and " " not in name else row)
        return rows

    def _portions(self, prefix: Path, own: list[Any], donor: list[Any]) -> list[Any]:
        """Build rows inside a row, which are only numbered: the lots of which a charge of a batch was weighed."""
        known = [
            (_fields(version.below, (*prefix, str(number))), row)
            for version, rows in ((self._own, own), (self._donor, donor))
            if version is not None
            for number, row in enumerate(rows, 1)
        ]
        numbers = dict.fromkeys(path[len(prefix)] for path in self._wanted[prefix])
        return [_portion(_fields(self._wanted, (*prefix, number)), known) for number in numbers]

    def _prices(self, own: list[Any], donor: list[Any]) -> list[Any]:
        wanted: tuple[Price, ...] = self._target["price",]
        left = list(wanted)
        rows = []
        for row in (*own, *donor):
            read = facts_of("ingredients", {"price": [row]}).get(("price",), ())
            if len(read) == 1 and read[0] in left:
                left.remove(read[0])
                rows.append(row)
        return rows + [row_of(price) for price in left]

    def _accepted(self, own: list[Any], donor: list[Any]) -> list[Any]:
        wanted = {path: value for path, value in self._wanted["accept",].items() if isinstance(value, Accepted)}
        rows = []
        for row in (*own, *donor):
            read = facts_of("recipe", {"accept": [row]})
            path = next((path for path in read if path[0] == "accept"), ())
            if path in wanted and read[path] == wanted[path]:
                del wanted[path]
                rows.append(row)
        for (_, rule, about), value in wanted.items():
            row = {"rule": rule, **({"about": about} if about else {}), "why": value.why}
            rows.append(row if value.until is None else {**row, "until": value.until})
        return rows + self._refused(own, donor)

    def _refused(self, own: list[Any], donor: list[Any]) -> list[Any]:
        """Give the rows that were refused, which are known by their numbers: one that repeats another, say."""
        rows: dict[str, Any] = {}
        for path, value in self._wanted["accept",].items():
            if isinstance(value, Accepted) or len(path) < 2 or not path[1].isdigit():
                continue
            for version, there in ((self._own, own), (self._donor, donor)):
                if version is not None and version.facts.get(path) == value and 0 < int(path[1]) <= len(there):
                    rows.setdefault(path[1], there[int(path[1]) - 1])
        return list(rows.values())


def _value_key(prefix: Path, value: Any) -> str:
    """Name the key that a value has in a table of its own."""
    if prefix[0] in _LINES:
        return "conforms" if isinstance(value, bool) else "words" if isinstance(value, str) else "is"
    return "amount" if getattr(value, "kind", "percent") != "percent" else "pct"


def _is_rows(own: Any, donor: Any) -> bool:
    sides = [side for side in (own, donor) if side is not _ABSENT]
    if not sides or not all(isinstance(side, list) for side in sides):
        return False
    return any(sides) and all(isinstance(row, dict) for side in sides for row in side)


def _fields(below: Mapping[Path, Mapping[Path, Any]], prefix: Path) -> dict[Path, Any]:
    return {path[len(prefix) :]: value for path, value in below.get(prefix, {}).items()}


def _portion(wanted: dict[Path, Any], known: list[tuple[dict[Path, Any], dict[str, Any]]]) -> dict[str, Any]:
    """Build a row as some version has it, else field by field, each spelled as some row spells it."""
    if any(len(path) != 1 for path in wanted):
        raise CannotWrite("a row holds a table")
    whole = next((row for fields, row in known if fields == wanted), None)
    if whole is not None:
        return whole
    return {
        path[0]: next((row[path[0]] for fields, row in known if fields.get(path, _ABSENT) == value), toml_of(value))
        for path, value in wanted.items()
    }


def _members(wanted: Mapping[Path, Any], own: Any, donor: Any) -> list[str]:
    sides = [side if isinstance(side, list) else [side] for side in (own, donor) if _is_members(side)]
    names = [path[-1] for path in wanted]
    found: dict[str, str] = {}
    for item in (*(item for side in sides for item in side), *names):
        if isinstance(item, str) and item.strip() in names:
            found.setdefault(item.strip(), item)
    return list(found.values())


def _is_members(node: Any) -> bool:
    return isinstance(node, str) or (isinstance(node, list) and all(isinstance(item, str) for item in node))


def _names(key: str, facts: Facts) -> list[str]:
    """Name the rows of an array in their order, as far as their order is kept."""
    order = facts.get((key, ""))
    if isinstance(order, tuple):
        return list(order)
    return list(dict.fromkeys(path[1] for path in facts if path[0] == key and len(path) > 1 and path[1]))


def _by_name(key: str, facts: Facts, rows: list[Any]) -> dict[str, Any]:
    names = _names(key, facts)
    if len(names) != len(rows):
        raise CannotWrite(f"the rows of '{key}' cannot be told apart")
    return dict(zip(names, rows, strict=True))


def _woven(own: list[str], donor: list[str], names: list[str]) -> list[str]:
    """Put names that come behind the name that they follow in the donor."""
    found = list(own)
    for index, name in enumerate(donor):
        if name not in found:
            before = next((other for other in reversed(donor[:index]) if other in found), None)
            found.insert(len(found) if before is None else found.index(before) + 1, name)
    return [*found, *(name for name in names if name not in found)]


def toml_of(value: Any) -> Any:
    """Give a fact's value as TOML data: texts as they were written, numbers with their digits."""
    if isinstance(value, Amount):
        return value.value if value.kind in ("percent", "parts") else value.text
    if isinstance(value, Quantity | Range | BookTotal | PartSpan):
        return value.text
    if isinstance(value, Price):
        return row_of(value)
    if isinstance(value, Addition):
        return value.what if value.share is None else {"what": value.what, "share": value.share.text}
    if isinstance(value, tuple):
        return [toml_of(item) for item in value]
    if isinstance(value, Unread):
        return _ABSENT if value.raw is None else value.raw
    if isinstance(value, Fraction):  # an index
        text = exact_text(value)
        return text if "/" in text else Decimal(text)
    return value
