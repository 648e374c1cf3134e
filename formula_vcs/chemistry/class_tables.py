"""Compile the tables of classes, pairs and roles: called by `compile_tables`.

For `compile_tables`, which writes it beside each pattern.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from re import _constants as kinds  # type: ignore[attr-defined]
from re import _parser as reading  # type: ignore[attr-defined]
from typing import Any, Final

from formula_vcs.chemistry.pair_rows import as_data, rows_of
from formula_vcs.model.facts import unread
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.substance_classes import CLASSES, with_wider
from formula_vcs.toml.rules_file import read_rules

# --- Compile the tables of classes, pairs and roles: called by `compile_tables`


# The class that a charge and its head stand for; heads that several classes share give the charge alone.
OF_CHARGE: Final[Mapping[tuple[str, str], str]] = {
    ("anionic", "sulfate"): "sulfate surfactant",
    ("anionic", "sulfonate"): "sulfonate surfactant",
    ("anionic", "phosphate"): "phosphate surfactant",
    ("anionic", "polymer"): "anionic polymer",
    ("cationic", "quat"): "cationic surfactant",
    ("cationic", "polymer"): "cationic polymer",
    ("cationic", "biocide"): "cationic biocide",
    ("amphoteric", "betaine"): "amphoteric surfactant",
    ("amphoteric", "surfactant"): "amphoteric surfactant",
    ("amphoteric", "protein"): "protein",
    ("non-ionic", "surfactant"): "non-ionic surfactant",
    ("non-ionic", "polymer"): "non-ionic polymer",
}


def of_charge(charge: str, kind: str) -> str:
    """Give the class that a charge and its head stand for."""
    return OF_CHARGE.get((charge, kind), charge)


def classes(data: Mapping[str, Any], charges: Mapping[str, Any]) -> dict[str, Any]:
    """Give {"names": {INCI: [class]}, "cas": {number: [class]}}, wider classes included; charges come from their table.

    A CAS number whose names are in different classes is left out.

    :raises ValueError: a class is not known.
    """
    groups = [(name, members) for name, members in data["class"].items()]
    groups += [(of_charge(row["charge"], row["kind"]), row["names"]) for row in charges["class"]]
    by_name: dict[str, set[str]] = defaultdict(set)
    numbers: dict[str, set[str]] = defaultdict(set)
    for name, members in groups:
        if name not in CLASSES:
            raise ValueError(f"classes: there is no class '{name}'")
        for inci, cas in members.items():
            by_name[inci_key(inci)] |= with_wider(name)
            if cas:
                numbers[cas].add(inci_key(inci))
    alike = {
        cas: sorted(by_name[next(iter(keys))])
        for cas, keys in sorted(numbers.items())
        if len({frozenset(by_name[key]) for key in keys}) == 1
    }
    return {"names": {key: sorted(found) for key, found in sorted(by_name.items())}, "cas": alike}


def pairs(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give {"rows": [pair]}.

    :raises ValueError: a row cannot be read; the message names them all.
    """
    facts = read_rules(dict(data))
    bad = [f"pairs: {'/'.join(path)}: {value.message}" for path, value in unread(facts)]
    if bad:
        raise ValueError("\n".join(bad))
    return {"rows": [as_data(pair) for pair in rows_of(facts)]}


# --- What a text must hold for a pattern to fit: so that most patterns of a table need not be compiled at all


_MOST = 40  # texts; a longer list is no quicker than the pattern


def needed_text(pattern: str) -> list[str]:
    """Give texts of which each fitting text holds one; none where nothing can be said of it."""
    found = _needed(reading.parse(pattern))
    return sorted(found) if len(found) <= _MOST else []


def _needed(parts: Iterable[tuple[object, Any]]) -> set[str]:
    """Choose among the parts, all of which must be there, the one that says most."""
    choices: list[set[str]] = []
    run = ""
    for kind, what in (*parts, (None, None)):
        if kind is kinds.LITERAL:
            run += chr(what)
            continue
        if run:
            choices.append({run})
        run = ""
        if kind is kinds.BRANCH:
            each = [_needed(branch) for branch in what[1]]
            choices += [set().union(*each)] if all(each) else []
        elif kind is kinds.SUBPATTERN:
            choices.append(_needed(what[3]))
        elif kind is kinds.MAX_REPEAT and what[0] > 0:
            choices.append(_needed(what[2]))
    return max(filter(None, choices), key=lambda texts: (min(map(len, texts)), -len(texts)), default=set())
